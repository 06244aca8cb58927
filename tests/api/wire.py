"""Items as a phone puts them on the wire."""

import json
from typing import Any
from uuid import UUID

from projects.services.chain import sha256_text
from tests.field_log.visits import visit_body


def wire(
    body: dict[str, Any] | str, *, id: UUID | str | None = None, personal: str = "", **changes: Any
) -> dict[str, Any]:
    """Return one item; the body may be a text that is no JSON at all."""
    text = body if isinstance(body, str) else json.dumps(body, default=str)
    sent_id = str(id or (body["visit"] if isinstance(body, dict) else ""))
    item = {
        "id": sent_id, "kind": "visit", "schema": "visit/1", "sha256": sha256_text(text), "body": text,
        "personal": personal,
    }  # fmt: skip
    return {**item, **changes}


__all__ = ["visit_body", "wire"]

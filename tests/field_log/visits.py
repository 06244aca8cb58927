"""Records as a phone writes them, for tests."""

import hashlib
import json
from typing import Any
from uuid import UUID

from projects.identifiers import uuid7
from projects.services.log import Item


def item(body: dict[str, Any], *, id: UUID | None = None, personal: str = "") -> Item:
    text = json.dumps(body, default=str)
    return Item(
        id=id or UUID(str(body["visit"])), kind="visit", schema="visit/1",
        sha256=hashlib.sha256(text.encode()).hexdigest(), body=text, personal=personal,
    )  # fmt: skip


def visit_body(plot, survey_round, lines: list[dict] | None = None, **fields: Any) -> dict[str, Any]:
    values = {
        "visit": str(uuid7()), "parents": [], "plot": str(plot.uid),
        "round": str(survey_round.uid) if survey_round else None, "purpose": "survival",
        "observed_on": "2025-09-14", "captured_at": "2025-09-14T09:14:00+01:00", "clock_offset_ms": 0,
        "status": "counted", "reason": "", "lines": lines or [],
    }  # fmt: skip
    return {**values, **fields}


def line(baseline, alive: int, **fields: Any) -> dict[str, Any]:
    return {"baselines": [str(baseline.line)], "species": baseline.species.slug, "alive": alive, **fields}


def correction(body: dict[str, Any], id: UUID | None = None, **changes: Any) -> tuple[dict, UUID]:
    """Return a new revision of a visit and its id; parents name the root unless given."""
    return {**body, "parents": [body["visit"]], **changes}, id or uuid7()

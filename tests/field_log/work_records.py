"""Records of field work as a phone writes them, for tests."""

import hashlib
import json
from typing import Any
from uuid import UUID

from projects.identifiers import uuid7
from projects.services.log import Item

AT = "2026-11-25T09:14:03.120+00:00"


def sealed(kind: str, body: dict[str, Any] | str, *, id: UUID | None = None, personal: Any = "") -> Item:
    text = body if isinstance(body, str) else json.dumps(body, default=str)
    return Item(
        id=id or uuid7(), kind=kind, schema=f"{kind}/1", sha256=hashlib.sha256(text.encode()).hexdigest(),
        body=text, personal=personal if isinstance(personal, str) else json.dumps(personal),
    )  # fmt: skip


def handover(lot: Any, **fields: Any) -> dict[str, Any]:
    values = {
        "lot": lot.uid, "point": "arrival", "checked_at": AT, "clock_offset_ms": 0, "counted": 950,
        "box_temperature_c": 1.5, "minutes_exposed": 4, "root_condition": "moist", "sample_size": None,
        "sample_bad": None, "heights_cm": [], "collars_mm": [], "verdict": "accept", "because": "", "photos": [],
    }  # fmt: skip
    return {**values, **fields}


def walk(block: Any, *signs: dict[str, Any], **fields: Any) -> dict[str, Any]:
    values = {
        "block": block.uid, "walked_on": "2026-11-25", "recorded_at": AT, "clock_offset_ms": 0,
        "signs": list(signs),
    }  # fmt: skip
    return {**values, **fields}


def care(task: Any, *, done_on: str | None = "2026-11-25", **fields: Any) -> dict[str, Any]:
    values = {
        "task": task.uid, "recorded_at": AT, "clock_offset_ms": 0, "done_on": done_on, "put_off": None,
        "amount": None, "photos": [],
    }  # fmt: skip
    return {**values, **fields}

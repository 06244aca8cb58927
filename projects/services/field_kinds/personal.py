"""Read what of a record's personal part the rows show: its notes. What cannot be read is passed over.

The text stays erasable: `services/erasure.py` takes the notes out of the rows too.
"""

import json
from typing import Any

from projects.services.field_kinds.reading import clean

MOST_TEXT = 2000


def notes_of(personal: str) -> tuple[str, list[str]]:
    """Return the note on the whole record, and one for each row of it where there are any.

    >>> notes_of('{"note": " fence down ", "sign_notes": ["at the gate", null]}')
    ('fence down', ['at the gate', ''])
    >>> notes_of("not JSON")
    ('', [])
    """
    found = read(personal)
    rows = found.get("sign_notes")
    return line(found.get("note")), [line(row) for row in rows] if isinstance(rows, list) else []


def read(personal: str) -> dict[str, Any]:
    try:
        found = json.loads(personal) if personal else {}
    except (ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


def line(value: Any) -> str:
    return clean(value).strip()[:MOST_TEXT] if isinstance(value, str) else ""

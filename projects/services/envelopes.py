"""The envelopes records travel in: read one by one, so that a fault in one never holds up the others.

Whoever takes records in (the field API, a file a phone saved) opens them here and hands them to the log.
"""

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _

from projects.access import Actor
from projects.services import log
from projects.services.log import UNSTORABLE, Fault, Item, Outcome, Rejected

CANONICAL_UUID = re.compile(r"[0-9a-fA-F]{8}(-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}")
NEEDED = ("kind", "schema", "sha256", "body")


@dataclass(frozen=True)
class BadEnvelope:
    """An item that cannot be handed to the log, with what of it can be kept."""

    sent_id: Any
    kept: Item | None
    rejected: Rejected


def append_entries(actor: Actor, entries: Sequence[Any], *, source: str) -> list[Outcome]:
    """Store what came as a list of items and return one outcome for each, in the order sent."""
    opened = [open_envelope(entry) for entry in entries]
    good = [item for item in opened if isinstance(item, Item)]
    outcomes = iter(log.append_items(actor, good, source=source) if good else [])
    return [next(outcomes) if isinstance(item, Item) else turned_away(actor, item, source) for item in opened]


def open_envelope(entry: Any) -> Item | BadEnvelope:
    """Return an item ready for the log, or why it is not."""
    if not isinstance(entry, dict):
        return bad_envelope({}, [Fault("", _("Each item must be an object with named values."))])
    faults = [*id_faults(entry), *text_faults(entry)]
    if faults:
        return bad_envelope(entry, faults)
    texts = {name: entry[name] for name in NEEDED}
    return Item(id=UUID(entry["id"]), personal=entry.get("personal") or "", **texts)


def id_faults(entry: dict[str, Any]) -> list[Fault]:
    sent = entry.get("id")
    if isinstance(sent, str) and CANONICAL_UUID.fullmatch(sent):
        return []
    return [Fault("/id", _("Give each item an id: a UUID such as 0192f0c1-2b3d-7e4f-8a5b-6c7d8e9f0a1b."))]


def text_faults(entry: dict[str, Any]) -> list[Fault]:
    """Return a fault for each part that is missing, not text, or holds what no database can keep."""
    faults = []
    for name in (*NEEDED, "personal"):
        value = entry.get(name)
        if value is None and name == "personal":
            continue
        if not isinstance(value, str):
            faults.append(Fault(f"/{name}", _("This part is missing or is not text.")))
        elif UNSTORABLE.search(value):
            faults.append(
                Fault(f"/{name}", _("This text holds a NUL or half a character. Save the record again."))
            )
    return faults


def bad_envelope(entry: dict[str, Any], faults: list[Fault]) -> BadEnvelope:
    """Keep what can be kept of an item: its body as sent, or the whole of it where there is no body text."""
    sent_id, body = entry.get("id"), entry.get("body")
    kept = None
    if sent_id is not None:
        whole = {name: value for name, value in entry.items() if name != "personal"}
        kept = Item(
            id=storable(sent_id)[:80],  # type: ignore[arg-type]  # the log keeps it as text
            kind=storable(entry.get("kind")), schema=storable(entry.get("schema")), sha256="",
            body=storable(body) if isinstance(body, str) else storable(whole),
        )  # fmt: skip
    return BadEnvelope(sent_id, kept, Rejected("envelope_invalid", faults))


def storable(value: Any) -> str:
    """Return any JSON value as text that every database holds; odd characters are written as escapes."""
    text = (
        value if isinstance(value, str) else json.dumps(value, ensure_ascii=True) if value is not None else ""
    )
    return UNSTORABLE.sub(lambda odd: f"\\u{ord(odd[0]):04x}", text)


def turned_away(actor: Actor, bad: BadEnvelope, source: str) -> Outcome:
    """Keep a bad envelope with its reasons and say so; its id is whatever was sent as one."""
    if bad.kept is not None:
        log.keep_refused(actor, bad.kept, bad.rejected, source)
    return Outcome(bad.sent_id, log.REJECTED, code=bad.rejected.code, faults=bad.rejected.faults)

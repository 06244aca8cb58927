"""Take in the file of unsent counts that a phone saved: its records enter the log as if the phone had sent them."""

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from django.utils.translation import gettext as _

from projects.access import Actor
from projects.errors import Refusal
from projects.services.envelopes import append_entries
from projects.services.log import UNSTORABLE, Outcome

FORMAT = "tallygrove-unsent/1"
MOST_BYTES = 4 * 1024 * 1024
MOST_RECORDS = 2000
RECORDS_AT_ONCE = 50  # as a phone sends them: others are let in between, and no lock is held for long


@dataclass(frozen=True)
class UnsentFile:
    """What a phone saved: records as they would have travelled, and how many drafts were still open."""

    records: list[Any]
    n_drafts: int
    label: str
    saved_at: str


@dataclass(frozen=True)
class TakenIn:
    """What became of a file, record by record in its order."""

    file: UnsentFile
    outcomes: list[Outcome] = field(default_factory=list)


def take_in(*, actor: Actor, content: bytes) -> TakenIn:
    """Append every record of a file to the log; taking in the same file again changes nothing.

    Each batch is a transaction of its own: what was stored stays stored, and a second try tells so.
    """
    actor.require("upload.add")
    file = read_file(content)
    outcomes: list[Outcome] = []
    for batch in batches(file.records):
        outcomes += append_entries(actor, batch, source="file")
    return TakenIn(file, outcomes)


def batches(records: list[Any]) -> Iterator[list[Any]]:
    for start in range(0, len(records), RECORDS_AT_ONCE):
        yield records[start : start + RECORDS_AT_ONCE]


def read_file(content: bytes) -> UnsentFile:
    """Return what a file holds, or refuse it with what to do; nothing is stored before it was read whole."""
    found = read_json(content)
    if not isinstance(found, dict) or not str(found.get("format", "")).startswith("tallygrove-unsent/"):
        raise refused(_("This file was not saved by the phone form. Choose the one it saved as “unsent”."))
    if found["format"] != FORMAT:
        raise refused(_("A newer phone form saved this file. Ask for the service to be brought up to date."))
    records, drafts = found.get("items"), found.get("drafts")
    if not isinstance(records, list):
        raise refused(_("The file holds no list of counts. Save it on the phone again."))
    if len(records) > MOST_RECORDS:
        words = _("The file holds %(found)s counts; at most %(most)s are taken in at once.")
        raise refused(words % {"found": len(records), "most": MOST_RECORDS})
    n_drafts = len(drafts) if isinstance(drafts, list) else 0
    label = found["pass"].get("label") if isinstance(found.get("pass"), dict) else ""
    return UnsentFile(records, n_drafts, text(label), text(found.get("saved_at")))


def read_json(content: bytes) -> Any:
    if not content.strip():
        raise refused(_("The file is empty. Save it on the phone again."))
    if len(content) > MOST_BYTES:
        raise refused(too_large())
    try:
        return json.loads(content.decode("utf-8-sig"))
    except (ValueError, RecursionError) as wrong:
        raise refused(
            _("The file cannot be read: it was cut off or changed. Copy it from the phone again, as a file.")
        ) from wrong


def too_large() -> str:
    words = _("The file is larger than the %(most)s MB that are read. Save it on the phone again.")
    return words % {"most": MOST_BYTES // 1024 // 1024}


def text(value: Any) -> str:
    """Return a line of the file that is only shown, as far as it is a line."""
    return UNSTORABLE.sub("\ufffd", value[:120]) if isinstance(value, str) else ""


def refused(message: str) -> Refusal:
    return Refusal(message, field="file", code="file_refused")

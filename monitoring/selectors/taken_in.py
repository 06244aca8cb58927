"""What became of each record of a file a phone had saved, in words."""

from dataclasses import dataclass
from typing import Any

from django.utils.dateparse import parse_datetime

from monitoring.models import CaseKind
from monitoring.selectors import log_records
from monitoring.selectors.log_records import About
from monitoring.services.unsent import TakenIn
from projects.access import Actor
from projects.doubt_words import DOUBTS
from projects.services.log import Outcome


@dataclass(frozen=True)
class RecordRow:
    """One record of the file: what it is about and what became of it."""

    number: int
    about: About
    outcome: Outcome

    @property
    def flags(self) -> list[str]:
        """What is odd about a stored record."""
        words = dict(CaseKind.choices) | DOUBTS
        return [str(words.get(flag, flag)) for flag in self.outcome.flags]

    @property
    def reasons(self) -> list[str]:
        """Why a record was not stored."""
        return [str(fault.detail) for fault in self.outcome.faults]


def page_of(actor: Actor, taken: TakenIn) -> dict[str, Any]:
    """Return rows, the numbers of each outcome, and what the file says of itself."""
    found = log_records.about(actor, [body_of(record) for record in taken.file.records])
    rows = [
        RecordRow(number, told, outcome)
        for number, (told, outcome) in enumerate(zip(found, taken.outcomes, strict=True), start=1)
    ]
    kinds = [row.outcome.outcome for row in rows]
    return {
        "rows": rows,
        "n_new": kinds.count("stored") + kinds.count("stored_flagged"),
        "n_already": kinds.count("already"),
        "n_refused": kinds.count("rejected") + kinds.count("id_reused"),
        "n_later": kinds.count("retry"),
        "n_flagged": kinds.count("stored_flagged"),
        "n_drafts": taken.file.n_drafts,
        "label": taken.file.label,
        "saved_at": parsed(taken.file.saved_at),
    }


def body_of(record: Any) -> str:
    body = record.get("body") if isinstance(record, dict) else None
    return body if isinstance(body, str) else ""


def parsed(saved_at: str) -> Any:
    try:
        return parse_datetime(saved_at)
    except ValueError:
        return None

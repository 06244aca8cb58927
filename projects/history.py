"""Who changed what: every service writes one entry in the transaction of its change."""

from datetime import date, datetime, time
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import models as db

from projects.access import Actor
from projects.models import HistoryEntry

WITHHELD = "withheld"  # stands for a value that must stay erasable, as history can never be


def record(
    actor: Actor, verb: str, subject: Any, *, change: dict[str, Any] | None = None, reason: str = ""
) -> HistoryEntry:
    """Write one history entry about `subject`; `verb` reads like “site.edited”."""
    return HistoryEntry.objects.create(
        organisation=actor.organisation,
        verb=verb,
        subject_kind=subject._meta.model_name,
        subject_uid=subject.uid,
        subject_label=str(subject)[:200],
        actor_label=actor.label,
        person=actor.person,
        change=change or {},
        reason=storable(reason)[:300],
    )


def storable(text: str) -> str:
    """Return words as every database holds them: buttons send theirs past the forms that would refuse a NUL."""
    return text.replace("\x00", "")


def differences(row: db.Model, new: dict[str, Any]) -> dict[str, list[Any]]:
    """Return {field: [before, after]} for the fields whose value would change.

    Fields a model lists under `kept_out_of_history`, where people's names may be written, are named without values.
    """
    found = {}
    kept_out = getattr(row, "kept_out_of_history", ())
    for name, value in new.items():
        before = getattr(row, name)
        if before != value:
            withheld = name in kept_out
            found[name] = [WITHHELD, WITHHELD] if withheld else [plain(before), plain(value)]
    return found


def plain(value: Any) -> Any:
    """Return a value as JSON can hold it."""
    if isinstance(value, db.Model):
        return str(value)
    if isinstance(value, Decimal | UUID):
        return str(value)
    if isinstance(value, date | datetime | time):
        return value.isoformat()
    return value

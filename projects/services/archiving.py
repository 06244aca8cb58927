"""Put a record away and bring it back. Nothing is deleted, and doing it twice changes nothing."""

from typing import Any

from django.db import models, transaction
from django.utils import timezone

from projects import history
from projects.access import Actor


@transaction.atomic
def put_away(*, actor: Actor, row: models.Model, verb: str, reason: str = "") -> Any:
    """Set `archived_at` unless it is set; `verb` is the noun of the history entry, such as “site”."""
    manager = type(row)._default_manager
    if manager.filter(pk=row.pk, archived_at__isnull=True).update(archived_at=timezone.now()):
        history.record(actor, f"{verb}.archived", row, reason=reason)
    row.refresh_from_db()
    return row


@transaction.atomic
def bring_back(*, actor: Actor, row: models.Model, verb: str) -> Any:
    """Clear `archived_at` where it is set."""
    if type(row)._default_manager.filter(pk=row.pk, archived_at__isnull=False).update(archived_at=None):
        history.record(actor, f"{verb}.restored", row)
    row.refresh_from_db()
    return row

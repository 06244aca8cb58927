"""Recompute one dirty key: read, compute, then write and clear under the key's lock.

No transaction is open while counts are read and figures computed, so a count that arrives meanwhile is stored
at once. It raises the key's version (or will, after the lock), and a key is cleared only at the version at
which its reading began. What was computed from older counts is at worst written and computed again.
"""

import logging
import traceback
from collections.abc import Callable, Iterable
from typing import Protocol

from django.db import transaction
from django.db.models import F, QuerySet

from monitoring.models import DirtyKey
from monitoring.services import dirty

logger = logging.getLogger(__name__)

MOST_ATTEMPTS = 5  # then the key is parked with its error, and the others go on
SAME_LIFE = 2**40  # versions further apart belong to another life of the row


class Part(Protocol):
    """Something a computation owns and can write."""

    def write(self) -> int:
        """Write it and return how many rows were touched."""


Work = Callable[[int, str], Iterable[Part]]


def recompute(*, organisation_id: int, kind: str, key: str) -> bool:
    """Bring one key up to date; return whether its figures were written.

    Harmless when run twice, late, or beside another worker: a key that is gone or begun anew by someone
    else is left alone.
    """
    version = begin(organisation_id, kind, key)
    if version is None:
        return False
    try:
        parts = list(work_of(kind)(organisation_id, key))
        return finish(organisation_id, kind, key, version, parts)
    except Exception as problem:
        note_failure(organisation_id, kind, key, problem)
        return False


def work_of(kind: str) -> Work:
    """Return the function that computes a kind of key."""
    from monitoring.services import figures

    return {
        dirty.ROUND_BLOCK: figures.of_round_block,
        dirty.ROUND: figures.of_round,
        dirty.PROJECT: figures.of_project,
    }[kind]


def rows_of(organisation_id: int, kind: str, key: str) -> QuerySet[DirtyKey]:
    return DirtyKey.objects.filter(organisation_id=organisation_id, kind=kind, key=key)


def begin(organisation_id: int, kind: str, key: str) -> int | None:
    """Count an attempt and return the version to compute; None when there is nothing to do.

    The attempt is counted first, so that a key which kills its worker is parked too.
    """
    rows = rows_of(organisation_id, kind, key).filter(attempts__lt=MOST_ATTEMPTS)
    if not rows.update(attempts=F("attempts") + 1):
        return None
    return rows_of(organisation_id, kind, key).values_list("version", flat=True).first()


@transaction.atomic
def finish(organisation_id: int, kind: str, key: str, version: int, parts: Iterable[Part]) -> bool:
    """Write the figures and clear the key if nothing came in since its version."""
    row = rows_of(organisation_id, kind, key).select_for_update().first()
    if row is None or not 0 <= row.version - version < SAME_LIFE:
        return False  # somebody else has computed newer counts
    touched = sum(part.write() for part in parts)
    if touched and kind != dirty.PROJECT:
        mark_what_follows(organisation_id, kind, key)
    if row.version == version:
        row.delete()
    else:
        rows_of(organisation_id, kind, key).update(attempts=0, error="")
    return True


def mark_what_follows(organisation_id: int, kind: str, key: str) -> None:
    """What rests on new figures becomes stale in the transaction that wrote them.

    Needs, curves and reminders rest on every round. A later round looks back on the counts of this one, which
    show in the figures of its blocks first; so a pooled figure marks its project alone.
    """
    follow = dirty.keys_that_follow(int(key.partition(":")[0]))
    kinds = (dirty.ROUND, dirty.PROJECT) if kind == dirty.ROUND_BLOCK else (dirty.PROJECT,)
    dirty.mark(organisation_id, [one for one in follow if one.kind in kinds])


def note_failure(organisation_id: int, kind: str, key: str, problem: Exception) -> None:
    """Keep the error beside the key, so that whoever looks finds the cause."""
    text = "".join(traceback.format_exception(problem))[-4000:]
    rows_of(organisation_id, kind, key).update(error=text)
    logger.error(
        "%s %s of organisation %s could not be computed", kind, key, organisation_id, exc_info=problem
    )

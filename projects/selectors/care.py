"""Aftercare of a block as its page lists it: what is open first, by its window, then what was done."""

from dataclasses import dataclass
from datetime import date

from django.db.models import F

from projects import access
from projects.access import Actor
from projects.models import Block, CareTask

MOST_DONE = 20


@dataclass(frozen=True)
class CareRow:
    """A task and where its window stands on a day."""

    task: CareTask
    is_late: bool
    is_due: bool  # its window is open


def care_rows(actor: Actor, block: Block, today: date) -> list[CareRow]:
    """Return open tasks, the soonest first, and the latest that were done; none to who may not see them."""
    if not actor.may("care.view"):
        return []
    tasks = access.visible_care_tasks(actor).filter(block=block)
    open_first = tasks.filter(done_on__isnull=True).order_by(F("due_by").asc(nulls_last=True), "id")
    done = tasks.filter(done_on__isnull=False).order_by("-done_on", "-id")[:MOST_DONE]
    return [_row(task, today) for task in [*open_first, *done]]


def _row(task: CareTask, today: date) -> CareRow:
    late = task.done_on is None and task.due_by is not None and task.due_by < today
    begun = task.due_from is None or task.due_from <= today
    return CareRow(task, late, task.done_on is None and begun and not late)

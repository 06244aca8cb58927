"""Aftercare of a block: tasks opened by people, by a schedule or by what was seen, changed, assigned, done, put off."""

from datetime import date, timedelta
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from projects import clocks, history
from projects.access import Actor, service_actor
from projects.errors import Refusal
from projects.models import Block, CareKind, CareTask, PaperKind, Person, Submission
from projects.services import editing, papers, reminders
from projects.services.organisations import known_currency

FIELDS = ("kind", "what", "due_from", "due_by", "done_on", "cost_minor", "currency")
OPEN_DAYS = timedelta(days=14)  # of a window put off that had no first day


@transaction.atomic
def add_task(
    *,
    actor: Actor,
    block: Block,
    kind: str,
    what: str,
    due_from: date | None = None,
    due_by: date | None = None,
) -> CareTask:
    """Add a care task to a block, with the window in which it helps."""
    actor.require("care.edit")
    editing.ours(actor, block)
    _check_window(due_from, due_by)
    row = CareTask(block=block, kind=kind, what=what, due_from=due_from, due_by=due_by)
    row.currency = block.project.currency
    return _remembered(editing.make(actor, row, "care.added"))


@transaction.atomic
def edit_task(*, actor: Actor, task: CareTask, version: str = "", **values: Any) -> CareTask:
    """Change a task; one without a day on which it was done is open again."""
    actor.require("care.edit")
    editing.ours(actor, task)
    values = {name: value for name, value in values.items() if name in FIELDS}
    _check_cost(values.get("cost_minor"), values.get("currency"))
    _check_window(values.get("due_from", task.due_from), values.get("due_by", task.due_by))
    _check_done(actor, values.get("done_on"))
    return _remembered(editing.change(actor, task, values, "care.edited", version=version))


@transaction.atomic
def finish_task(
    *,
    actor: Actor,
    task: CareTask,
    done_on: date,
    done_by: Person | None = None,
    amount: float | None = None,
    cost_minor: int | None = None,
    currency: str = "",
    photo: Any = None,
    submission: Submission | None = None,
    version: str = "",
) -> CareTask:
    """Say on which day a task was done, by whom, with how much, what it cost, and show a picture of it.

    Without a name it was done by whoever says so. What came through the log is told once: the same submission
    a second time changes nothing. A task that was dropped and done after all is done.
    """
    if submission is not None and task.submission_id == submission.pk:
        return task
    editing.ours(actor, task, done_by, submission)
    may_do(actor, task, submission)
    _check_done(actor, done_on)
    _check_cost(cost_minor, currency or None)
    if amount is not None and amount < 0:
        raise Refusal(_("An amount cannot be negative."), field="amount")
    values = {
        "done_on": done_on, "done_by": done_by or actor.person, "cost_minor": cost_minor,
        "currency": currency or task.currency, "dropped_at": None, "dropped_because": "",
    }  # fmt: skip
    values |= {} if amount is None else {"amount": amount}
    values |= {} if submission is None else {"submission": submission}
    task = editing.change(actor, task, values, "care.done", version=version)
    if photo:
        papers.attach(actor=actor, subject=task, upload=photo, kind=PaperKind.PHOTO)
    return _remembered(task)


@transaction.atomic
def undo_done(*, actor: Actor, task: CareTask) -> CareTask:
    """Open a task again that was said to be done by mistake; its cost goes with it."""
    editing.ours(actor, task)
    may_do(actor, task)
    values = {"done_on": None, "done_by": None, "cost_minor": None}
    return _remembered(editing.change(actor, task, values, "care.reopened"))


@transaction.atomic
def assign_task(*, actor: Actor, task: CareTask, person: Person | None, version: str = "") -> CareTask:
    """Say who sees to a task; nobody takes it off whoever did."""
    actor.require("care.edit")
    editing.ours(actor, task, person)
    if person is not None and person.erased_at is not None:
        raise Refusal(_("This person's name was removed. Choose somebody else."), field="person")
    return _remembered(editing.change(actor, task, {"assigned_to": person}, "care.assigned", version=version))


@transaction.atomic
def put_off(
    *,
    actor: Actor,
    task: CareTask,
    due_by: date,
    because: str,
    due_from: date | None = None,
    version: str = "",
) -> CareTask:
    """Give a task a later window and say why; the day it was first due by is kept.

    Without a first day the window moves as a whole, or opens two weeks before its new end.
    """
    editing.ours(actor, task)
    may_do(actor, task)
    _check_open(task)
    today = clocks.today_of(actor.organisation)
    if due_by < today or (task.due_by is not None and due_by <= task.due_by):
        raise Refusal(
            _("Choose a last day that is still to come and later than the one before."), field="due_by"
        )
    if not because.strip():
        raise Refusal(_("Say in a few words why it is put off."), field="because")
    _check_window(due_from, due_by)
    values = {
        "due_from": due_from or _moved_start(task, due_by, today), "due_by": due_by,
        "first_due_by": task.first_due_by or task.due_by, "put_off_because": because.strip()[:300],
    }  # fmt: skip
    return _remembered(editing.change(actor, task, values, "care.put_off", version=version))


@transaction.atomic
def drop_task(*, actor: Actor, task: CareTask, because: str, version: str = "") -> CareTask:
    """Say that a task is no longer needed, and why; it leaves the lists and can be taken up again."""
    actor.require("care.edit")
    editing.ours(actor, task)
    _check_open(task)
    if not because.strip():
        raise Refusal(_("Say in a few words why it is not needed."), field="because")
    values = {"dropped_at": timezone.now(), "dropped_because": because.strip()[:300]}
    return _remembered(editing.change(actor, task, values, "care.dropped", version=version))


@transaction.atomic
def take_up(*, actor: Actor, task: CareTask) -> CareTask:
    """Take up a task again that was dropped."""
    actor.require("care.edit")
    editing.ours(actor, task)
    return _remembered(
        editing.change(actor, task, {"dropped_at": None, "dropped_because": ""}, "care.reopened")
    )


@transaction.atomic
def open_for_cause(
    *,
    block: Block,
    kind: CareKind | str,
    what: str,
    source_key: str,
    actor: Actor | None = None,
    **facts: Any,
) -> CareTask:
    """Open a task the records ask for, once for each cause; a second call returns the first task as it stands.

    `facts` are further columns: why, source, rule, cohort, amount, amount_unit, due_from, due_by.
    """
    values = {"block": block, "kind": kind, "what": what[:200], "currency": block.project.currency, **facts}
    task, is_new = CareTask.objects.get_or_create(
        organisation=block.organisation, source_key=source_key, defaults=values
    )
    if is_new:
        history.record(actor or service_actor(block.organisation), "care.added", task)
        _remembered(task)
    return task


def may_do(actor: Actor, task: CareTask, submission: Submission | None = None) -> None:
    """Refuse with 403 unless the actor leads field work, or the task is theirs.

    What came through the log was let in there, by whoever had the task on their phone that day.
    """
    actor.require("care.do")
    mine = actor.person is not None and task.assigned_to_id == actor.person.pk
    if not (actor.may("care.edit") or mine or submission is not None):
        raise PermissionDenied(_("This task is not assigned to you."))


def _remembered(task: CareTask) -> CareTask:
    reminders.renew_care(task.organisation, task_uids=[task.uid])
    return task


def _moved_start(task: CareTask, due_by: date, today: date) -> date:
    if task.due_from is not None and task.due_by is not None:
        return max(task.due_from + (due_by - task.due_by), today)
    return max(due_by - OPEN_DAYS, today)


def _check_open(task: CareTask) -> None:
    if task.done_on is not None:
        raise Refusal(_("This is done already. Open it again first."), code="done")
    if task.dropped_at is not None:
        raise Refusal(_("This was dropped. Take it up again first."), code="dropped")


def _check_window(due_from: date | None, due_by: date | None) -> None:
    if due_from and due_by and due_by < due_from:
        raise Refusal(_("The last day lies before the first. Change one of them."), field="due_by")


def _check_cost(cost_minor: int | None, currency: str | None) -> None:
    known_currency(currency)
    if cost_minor is not None and cost_minor < 0:
        raise Refusal(_("An amount cannot be negative."), field="cost")


def _check_done(actor: Actor, done_on: date | None) -> None:
    if done_on is not None and done_on > clocks.today_of(actor.organisation):
        raise Refusal(
            _("This day has not come yet; enter what has been done."), field="done_on", code="future"
        )

"""Aftercare of a block: tasks opened by people or by what was counted, changed, and done."""

from datetime import date
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import clocks, history
from projects.access import Actor, service_actor
from projects.errors import Refusal
from projects.models import Block, CareKind, CareTask
from projects.services import editing, reminders
from projects.services.organisations import known_currency

FIELDS = ("kind", "what", "due_from", "due_by", "done_on", "cost_minor", "currency")


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
    cost_minor: int | None = None,
    currency: str = "",
    version: str = "",
) -> CareTask:
    """Say on which day a task was done and what it cost."""
    actor.require("care.edit")
    editing.ours(actor, task)
    _check_done(actor, done_on)
    _check_cost(cost_minor, currency or None)
    values = {"done_on": done_on, "cost_minor": cost_minor, "currency": currency or task.currency}
    return _remembered(editing.change(actor, task, values, "care.done", version=version))


@transaction.atomic
def open_for_cause(*, block: Block, kind: CareKind, what: str, source_key: str) -> CareTask:
    """Open a task the records ask for, once for each cause; a second call returns the first task."""
    values = {"block": block, "kind": kind, "what": what[:200], "currency": block.project.currency}
    task, is_new = CareTask.objects.get_or_create(
        organisation=block.organisation, source_key=source_key, defaults=values
    )
    if is_new:
        history.record(service_actor(block.organisation), "care.added", task)
        _remembered(task)
    return task


def _remembered(task: CareTask) -> CareTask:
    reminders.renew_care(task.organisation, task_uids=[task.uid])
    return task


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

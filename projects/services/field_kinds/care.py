"""What the log does with records of kind `care`: a care task done, or put off, told from a phone.

Several phones may tell of one task, in any order. Of days on which it is said to be done the earliest stands, and
of two records of that day the one with the smaller id; what was said at a desk stands before what phones say.
Done goes before put off, and of days it is put off to the latest stands. Whatever does not stand is kept in the
log and in the task's history, and flagged.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _

from projects import access, clocks
from projects.access import Actor
from projects.calc.field_doubts import clock_doubts
from projects.models import CareTask, Submission
from projects.services import care
from projects.services.editing import held
from projects.services.field_kinds.care_body import CareBody, PutOff, read_care
from projects.services.field_kinds.outcomes import name_pictures, refusals_rejected, remember_doubts
from projects.services.field_kinds.rights import at_work, not_yours
from projects.services.log import Item

WINDOW = timedelta(days=14)  # of a task put off: it opens so long before its new last day


@dataclass(frozen=True)
class Screened:
    """A readable record of a task its sender may do."""

    worker: Actor
    body: CareBody
    task: CareTask


class CareHandler:
    """Finishes or puts off a task by way of the service that does so at a desk."""

    def screen(self, actor: Actor, item: Item) -> Screened:
        """Refuse what cannot be read or is not theirs; everything odd goes on."""
        body = read_care(item.schema, item.body)
        worker = at_work(actor, "care.do")
        tasks = access.visible_care_tasks(worker).select_related("block__site")
        if not worker.may("care.edit"):  # a volunteer who signed in sees to what is theirs
            tasks = tasks.filter(assigned_to=worker.person, assigned_to__isnull=False)
        task = tasks.filter(uid=body.task).first()
        if task is None:
            words = _("This task is not one you may see to. Ask your field lead.")
            raise not_yours("task_unknown", "/task", words)
        return Screened(worker, body, task)

    def project(self, submission: Submission, parsed: Screened) -> Sequence[str]:
        """Let the task follow the record as far as it stands, and name its pictures."""
        body, worker, task = parsed.body, parsed.worker, held(parsed.task)
        with refusals_rejected({"done_on": "/done_on", "amount": "/amount", "due_by": "/put_off/until"}):
            if body.done_on is not None:
                doubts = told_done(worker, task, body, body.done_on, submission)
            elif body.put_off is not None:
                doubts = told_put_off(worker, task, body.put_off)
        name_pictures(worker, body.photos, care_task=task)
        return remember_doubts(worker, "care", task, [*doubts, *clock_doubts(body.clock_offset_ms)])


def told_done(
    worker: Actor, task: CareTask, body: CareBody, done_on: date, submission: Submission
) -> list[str]:
    """Finish a task, unless an earlier word stands; a day that has not come yet is put down as today."""
    today = clocks.today_of(worker.organisation)
    doubts = ["future_date"] if done_on > clocks.today_at(task.block.site) else []
    doubts += ["dropped_already"] if task.dropped_at is not None else []
    day = min(done_on, today)
    if task.done_on is not None and not stands_before(task, day, submission):
        return [*doubts, "done_already"]
    doubts += ["done_already"] if task.done_on is not None else []
    care.finish_task(
        actor=worker, task=task, done_on=day, done_by=submission.submitted_by, amount=body.amount,
        cost_minor=task.cost_minor, currency=task.currency, submission=submission,
    )  # fmt: skip
    return doubts


def stands_before(task: CareTask, day: date, submission: Submission) -> bool:
    """Say whether a new word on when a task was done goes before the one that stands."""
    standing = task.submission
    if standing is None or task.done_on is None:
        return False
    return (day, submission.client_id) < (task.done_on, standing.client_id)


def told_put_off(worker: Actor, task: CareTask, put_off: PutOff) -> list[str]:
    """Put a task off, unless it is over, or waits as long already."""
    if task.done_on is not None:
        return ["done_already"]
    if task.dropped_at is not None:
        return ["dropped_already"]
    is_later = task.due_by is None or put_off.until > task.due_by
    if not is_later or put_off.until < clocks.today_of(worker.organisation):
        return ["not_later"]
    care.put_off(
        actor=worker,
        task=task,
        due_by=put_off.until,
        because=put_off.because,
        due_from=put_off.until - WINDOW,
    )
    return []

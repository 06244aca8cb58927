"""Aftercare of the demo: routine care that crews planned and did, and dates for what the counts asked for."""

from datetime import date

from projects.access import Actor
from projects.models import Block, CareKind, CareTask
from projects.services import care

ROUTINE = {
    "Upper terraces": ((CareKind.WEEDING, "Cut bracken around the oaks", date(2026, 6, 15), date(2026, 6, 24)),),
    "West burnt slope": ((CareKind.GUARDS, "Fence against the goats of the common", date(2027, 1, 15), None),),
    "Lane hedge": ((CareKind.WEEDING, "Renew the straw along the hedge", date(2026, 5, 10), date(2026, 5, 8)),),
    "Square trees": ((CareKind.WATER, "Water the square trees in summer", date(2026, 8, 31), date(2026, 8, 31)),),
    "Ridge top": ((CareKind.WEEDING, "Ring-weed the young trees", date(2026, 12, 10), None),),
}  # fmt: skip
BEFORE_IT_SEEDS = date(2027, 3, 31)


def write_tasks(actor: Actor, today: date) -> None:
    """Write routine care, and date the tasks that invasive growth opened when it was counted."""
    blocks = {row.name: row for row in Block.objects.filter(organisation=actor.organisation)}
    for name, tasks in ROUTINE.items():
        for kind, what, due_by, done_on in tasks:
            if name in blocks:
                task = care.add_task(actor=actor, block=blocks[name], kind=kind, what=what, due_by=due_by)
                if done_on and done_on <= today:
                    care.finish_task(actor=actor, task=task, done_on=done_on)
    opened = CareTask.objects.filter(organisation=actor.organisation, kind=CareKind.INVASIVE)
    for task in opened.order_by("id"):
        care.edit_task(actor=actor, task=task, due_by=BEFORE_IT_SEEDS)

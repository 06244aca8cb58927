"""Taking lines of a schedule up as aftercare: each once, whatever its dates come out as later."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _

from projects import care_words
from projects.access import Actor
from projects.calc.care_schedule import CareChoices
from projects.errors import Refusal
from projects.models import Block, CareTask, Season
from projects.selectors.care_schedule import Proposal, schedules
from projects.services import care, editing


@dataclass(frozen=True)
class Accepted:
    """What came of the ticks: tasks that are new, and how many were on the list before."""

    new: tuple[CareTask, ...]
    n_known: int


@transaction.atomic
def accept(
    *,
    actor: Actor,
    block: Block,
    keys: Collection[str],
    choices: CareChoices,
    today: date,
    season: Season | None = None,
) -> Accepted:
    """Make a care task of every ticked line. One that is on the list, done or dropped stays as it is."""
    actor.require("care.edit")
    editing.ours(actor, block, season)
    if not keys:
        raise Refusal(_("Tick at least one line that should be done."), code="nothing_ticked")
    editing.held(block)  # two people taking up one schedule make one task of each line
    offered = {
        row.key: row
        for found in schedules(actor, block, choices, today, season)
        for row in found.proposals
        if not row.is_past
    }
    if unknown := set(keys) - set(offered):
        raise Refusal(
            _("The schedule has changed meanwhile (%(n)s lines). Look at it and tick again.")
            % {"n": len(unknown)},
            code="changed_meanwhile",
        )
    wanted = [row for key, row in offered.items() if key in set(keys)]
    new = tuple(_open(actor, block, row) for row in wanted if row.task is None)
    return Accepted(new, len(wanted) - len(new))


def _open(actor: Actor, block: Block, row: Proposal) -> CareTask:
    line = row.line
    return care.open_for_cause(
        block=block, kind=line.kind, what=row.what, source_key=row.source_key, actor=actor, cohort=row.cohort,
        why=row.why[:300], source=row.source[:200], rule=line.rule, due_from=line.due_from, due_by=line.due_by,
        amount=care_words.amount(line), amount_unit=care_words.unit(line)[:30],
    )  # fmt: skip

"""Quality checks of planting: trees of a spot of ground looked at just after they were planted."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from projects import clocks, history
from projects.access import Actor
from projects.crew_day_words import FAULTS
from projects.errors import Refusal
from projects.models import Block, CrewDay, QualityCheck, StockLot
from projects.services import editing


@transaction.atomic
def check_quality(
    *,
    actor: Actor,
    block: Block,
    checked_on: date,
    inspected: int,
    acceptable: int,
    crew_day: CrewDay | None = None,
    lot: StockLot | None = None,
    label: str = "",
    faults: Mapping[str, int] | None = None,
    note: str = "",
) -> QualityCheck:
    """Record one spot: how many trees were looked at, how many stand as they should, and what was wrong."""
    actor.require("planting.edit")
    editing.ours(actor, block, crew_day, lot)
    if crew_day is not None and crew_day.block_id != block.pk:
        raise Refusal(_("This planting day was in another block."), field="crew_day")
    if checked_on > clocks.today_at(block.site):
        raise Refusal(_("This day has not come yet; enter what has been looked at."), field="checked_on")
    if crew_day is not None and checked_on < crew_day.day:
        raise Refusal(_("Nobody looks at trees before they are planted. Check the day."), field="checked_on")
    if inspected < 1:
        raise Refusal(_("Look at one tree at least."), field="inspected")
    if not 0 <= acceptable <= inspected:
        raise Refusal(
            _("No more trees can be planted as they should be than were looked at."), field="acceptable"
        )
    row = QualityCheck(
        block=block, crew_day=crew_day, lot=lot, checked_on=checked_on, label=label, inspected=inspected,
        acceptable=acceptable, faults=_faults(faults or {}, inspected - acceptable), checked_by=actor.person, note=note,
    )  # fmt: skip
    return editing.make(actor, row, "quality_check.made")


def _faults(faults: Mapping[str, int], bad: int) -> dict[str, int]:
    """The faults that were seen; one tree may have several, but no fault is on more trees than are at fault."""
    found: dict[str, Any] = {}
    for name, number in faults.items():
        if name not in FAULTS:
            raise Refusal(_("Choose the fault from the list."), field=f"fault_{name}")
        if not number:
            continue
        if not 0 < number <= bad:
            raise Refusal(
                _("%(bad)s of the trees looked at were not as they should be; this fault is on more.")
                % {"bad": bad},
                field=f"fault_{name}",
            )
        found[name] = number
    return found


@transaction.atomic
def void_check(*, actor: Actor, check: QualityCheck, reason: str) -> QualityCheck:
    """Take back a check entered by mistake; it stays on the page, struck out."""
    actor.require("planting.edit")
    editing.ours(actor, check)
    if not reason.strip():
        raise Refusal(_("Say in a few words why this is taken back."), field="reason")
    changed = QualityCheck.objects.filter(pk=check.pk, voided_at__isnull=True).update(
        voided_at=timezone.now()
    )
    if changed:
        history.record(actor, "quality_check.cancelled", check, reason=reason)
    check.refresh_from_db()
    return check

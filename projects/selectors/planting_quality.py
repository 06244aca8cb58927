"""Quality checks of a block or a day: the share planted as it should be, and what was wrong."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from projects import access
from projects.access import Actor
from projects.calc.planting_quality import Quality, Spot, faults_in_all, quality
from projects.crew_day_words import FAULTS
from projects.models import Block, CrewDay, QualityCheck


@dataclass(frozen=True)
class PartOfChecks:
    """The checks of one lot or one day, with their own share."""

    label: Any
    found: Quality


@dataclass(frozen=True)
class Checks:
    """Checks with the share over all of them, by lot where several were told, and the faults."""

    rows: Sequence[QualityCheck]
    found: Quality
    by_lot: Sequence[PartOfChecks]
    faults: Sequence[tuple[Any, int]]


def of_block(actor: Actor, block: Block) -> Checks:
    """Every check in a block."""
    return _of(actor, {"block": block})


def of_day(actor: Actor, day: CrewDay) -> Checks:
    """Every check of one planting day."""
    return _of(actor, {"crew_day": day})


def _of(actor: Actor, which: dict[str, Any]) -> Checks:
    rows = access.visible_quality_checks(actor).filter(**which).select_related("lot__species", "crew_day")
    checks = list(rows.order_by("-checked_on", "-id"))
    standing = [row for row in checks if row.voided_at is None]
    by_lot: dict[Any, list[QualityCheck]] = {}
    for row in standing:
        by_lot.setdefault(row.lot, []).append(row)
    parts = [PartOfChecks(lot, share_of(held)) for lot, held in by_lot.items()]
    faults = faults_in_all([row.faults for row in standing])
    named = [(FAULTS[name], number) for name, number in faults.items() if name in FAULTS]
    return Checks(checks, share_of(standing), parts if len(parts) > 1 else [], named)


def share_of(checks: Iterable[QualityCheck]) -> Quality:
    return quality([Spot(row.inspected, row.acceptable) for row in checks])

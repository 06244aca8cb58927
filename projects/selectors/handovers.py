"""Looks at lots where they changed hands, with what their figures suggest."""

from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from projects import access, clocks
from projects.access import Actor
from projects.calc.handover_verdict import Limits, Readings, Suggestion, suggest
from projects.calc.lot_sampling import Points, SamplePlan, smallest_plan
from projects.calc.plant_measures import Spread, sturdiness_spread
from projects.models import LotCheck, Paper, StockLot
from projects.selectors.ledgers import Clocks, LotStanding, clocks_of, ledger_of

LIMITS = Limits()


def readings_of(check: LotCheck) -> dict[str, Any]:
    """Return the readings of a check that count towards a suggestion, and the day they were taken on."""
    names = (
        "point", "root_condition", "box_temperature_c", "minutes_exposed", "sample_size", "sample_bad", "accept_up_to",
        "counted",
    )  # fmt: skip
    day = check.checked_at.astimezone(clocks.zone(check.lot.organisation.time_zone)).date()
    return {name: getattr(check, name) for name in names} | {"on": day}


def suggestion_for(lot: StockLot, readings: dict[str, Any]) -> Suggestion:
    """Say what readings of a lot on a day suggest, its waiting among them."""
    return _suggested(lot, readings, clocks_of([lot]), ledger_of(lot).received)


def _suggested(lot: StockLot, readings: dict[str, Any], times: Clocks, received: int) -> Suggestion:
    """A sample stands for what was counted that day, else for all the lot ever held."""
    told = dict(readings)
    clock = times.on(lot, told.pop("on"))
    out, limit = (clock.days_out, clock.limit_days) if clock else (None, None)
    size = told.pop("counted") or received or 1
    if told["accept_up_to"] is None:
        told["accept_up_to"] = _planned_for(received, told["sample_size"], told["sample_bad"])
    return suggest(Readings(lot.stock_type, size, days_out=out, limit_days=limit, **told), LIMITS)


def _planned_for(received: int, sample_size: int | None, sample_bad: int | None) -> int | None:
    """What the page said it would accept, for a sample as large as it asked for that holds no more."""
    plan = _plan(received, LIMITS.points)
    if plan is None or sample_bad is None or (sample_size or 0) < plan.sample_size:
        return None
    return plan.accept_up_to if sample_bad <= plan.accept_up_to else None


def _plan(received: int, points: Points) -> SamplePlan | None:
    try:
        return smallest_plan(received, points)
    except ValueError:
        return None


def plan_for(lot: StockLot, points: Points = LIMITS.points) -> SamplePlan | None:
    """How many plants of a lot to look at; None where it is so small, or so few are left, that all are.

    It is made for all the lot ever held, as a sample of it is judged: a number that moved with every planting would
    turn down today what yesterday's page accepted.
    """
    ledger = ledger_of(lot)
    plan = _plan(ledger.received, points)
    return None if plan is None or 0 < ledger.at_hand <= plan.sample_size else plan


@dataclass(frozen=True)
class Looked:
    """A check as a page shows it."""

    check: LotCheck
    suggested: Suggestion
    sturdiness: Spread | None
    photos: list[Paper]


def checks_of(actor: Actor, standing: LotStanding) -> list[Looked]:
    """Return the checks of a lot, the last first; two queries."""
    lot, received = standing.lot, standing.ledger.received
    times = standing.clocks or clocks_of([lot])
    rows: QuerySet[LotCheck] = access.visible_lot_checks(actor).filter(lot=lot)
    found = []
    for check in rows.select_related("checked_by").prefetch_related("papers"):
        check.lot = lot
        suggested = _suggested(lot, readings_of(check), times, received)
        photos = [paper for paper in check.papers.all() if paper.voided_at is None]
        found.append(Looked(check, suggested, _sturdiness(check), photos))
    return found


def _sturdiness(check: LotCheck) -> Spread | None:
    if not check.heights_cm or not check.collars_mm:
        return None
    return sturdiness_spread(check.heights_cm, check.collars_mm)

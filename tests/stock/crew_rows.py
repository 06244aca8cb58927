"""A planting day with its lots and people, made through the services as pages make it."""

from datetime import date, time
from typing import Any

from projects.models import CrewDay, DayRule, LotCheck, Person
from projects.services import crew_day_lots, crew_days
from projects.services.crew_day_closing import LotEvening

DAY = date(2024, 2, 10)


def crew_day(actor: Any, block: Any, **fields: Any) -> CrewDay:
    values = {
        "day": DAY, "crew": "North", "meet_at": time(8, 30), "meeting_point": "The chapel gate", "back_by": time(17),
        "buddies": "The office, by telephone",
    }  # fmt: skip
    return crew_days.plan_day(actor=actor, block=block, **{**values, **fields})


def with_lot(actor: Any, day: CrewDay, lot: Any, planned: int = 300, **fields: Any) -> Any:
    return crew_day_lots.add_lot(actor=actor, crew_day=day, lot=lot, planned=planned, **fields)


def evening(row: Any, **numbers: int) -> LotEvening:
    return LotEvening(row.pk, **numbers)


def person(org: Any, name: str) -> Person:
    return Person.objects.create(organisation=org, name=name)


def rule(org: Any, **fields: Any) -> DayRule:
    values = {"measure": "soil_c", "side": "below", "limit": 4.4, "effect": "stop", "source": "invented"}
    return DayRule.objects.create(organisation=org, **{**values, **fields})


def lot_check(lot: Any, verdict: str, **fields: Any) -> LotCheck:
    return LotCheck.objects.create(organisation=lot.organisation, lot=lot, verdict=verdict, **fields)

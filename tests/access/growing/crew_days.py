"""Who may open what of: planting days as they are prepared, decided on and closed; quality checks."""

from datetime import date
from typing import Any

from projects.models import CrewDay, CrewDayLot, CrewDayPerson, CrewDayState, QualityCheck
from tests.access.letters import ML, MLV

POLICY: dict[tuple[str, str], str] = {
    ("projects:crew_day_list", "GET"): ML,
    ("projects:block_log", "GET"): ML,
    ("projects:crew_day_new", "GET"): ML,
    ("projects:crew_day_new", "POST"): ML,
    ("projects:crew_day_detail", "GET"): ML,
    ("projects:crew_day_edit", "GET"): ML,
    ("projects:crew_day_edit", "POST"): ML,
    ("projects:crew_day_people", "GET"): ML,
    ("projects:crew_day_people", "POST"): ML,
    ("projects:crew_day_lot_new", "GET"): ML,
    ("projects:crew_day_lot_new", "POST"): ML,
    ("projects:crew_day_lot_edit", "GET"): ML,
    ("projects:crew_day_lot_edit", "POST"): ML,
    ("projects:crew_day_lot_remove", "POST"): ML,
    ("projects:crew_day_sheet", "GET"): MLV,
    ("projects:crew_day_decide", "GET"): ML,
    ("projects:crew_day_decide", "POST"): ML,
    ("projects:crew_day_close", "GET"): ML,
    ("projects:crew_day_close", "POST"): ML,
    ("projects:crew_day_off", "POST"): ML,
    ("projects:crew_day_reopen", "POST"): ML,
    ("projects:quality_check_new", "GET"): ML,
    ("projects:quality_check_new", "POST"): ML,
    ("projects:quality_check_void", "POST"): ML,
}


def more(world: Any, text: str) -> None:
    """Add a day with somebody on it, and a check."""
    world.crew_day = CrewDay.objects.create(
        organisation=world.org, block=world.block, day=date(2024, 2, 11), crew=text, note=text
    )
    CrewDayPerson.objects.create(
        organisation=world.org, crew_day=world.crew_day, person=world.members["volunteer"].person
    )
    world.quality_check = QualityCheck.objects.create(
        organisation=world.org,
        block=world.block,
        checked_on=date(2024, 2, 12),
        label=text,
        inspected=20,
        acceptable=19,
    )


def lot_on_day(world: Any) -> CrewDayLot:
    """The lot on the day; put there again, on an open day, where a row before took it away."""
    CrewDay.objects.filter(pk=world.crew_day.pk).update(state=CrewDayState.PLANNED)
    row, _made = CrewDayLot.objects.get_or_create(
        organisation=world.org, crew_day=world.crew_day, lot=world.lot, defaults={"planned": 10}
    )
    return row


def rows(world: Any) -> dict[str, Any]:
    """Return {full url name: row its uid names} where the noun of the name does not tell."""
    return {
        "projects:crew_day_new": world.block,
        "projects:crew_day_lot_new": world.crew_day,
        "projects:quality_check_new": world.block,
    }


def nouns(world: Any) -> dict[str, Any]:
    """Return {noun of a url name: row}."""
    return {
        "crew_day": world.crew_day,
        "crew_day_lot": lot_on_day(world),
        "quality_check": world.quality_check,
    }

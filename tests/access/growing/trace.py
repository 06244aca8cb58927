"""Who may open what of: the way from a figure down to its lots and days, and back up."""

from datetime import date
from typing import Any

from projects.models import CrewDay, Delivery
from tests.access.letters import ML

POLICY: dict[tuple[str, str], str] = {
    ("monitoring:trace_block", "GET"): ML,
    ("monitoring:trace_project", "GET"): ML,
    ("monitoring:trace_cohort", "GET"): ML,
    ("monitoring:trace_lot", "GET"): ML,
    ("monitoring:trace_delivery", "GET"): ML,
    ("monitoring:trace_nursery", "GET"): ML,
    ("monitoring:trace_order", "GET"): ML,
    ("monitoring:trace_day", "GET"): ML,
    ("monitoring:trace_crew_day", "GET"): ML,
    ("monitoring:trace_crew", "GET"): ML,
}


def more(world: Any, text: str) -> None:
    """Add a delivery of the order and a crew's day."""
    world.traced_delivery = Delivery.objects.create(
        organisation=world.org, order=world.order, nursery=world.lot.nursery, delivered_on=date(2024, 2, 1),
        note_number=f"{text} traced",
    )  # fmt: skip
    world.traced_crew_day = CrewDay.objects.create(
        organisation=world.org, block=world.block, day=date(2024, 2, 10), crew=f"{text} crew", state="closed"
    )


def rows(world: Any) -> dict[str, Any]:
    """Return {full url name: row its uid names} where the noun of the name does not tell."""
    return {
        "monitoring:trace_block": world.block, "monitoring:trace_project": world.project,
        "monitoring:trace_cohort": world.cohort, "monitoring:trace_lot": world.lot,
        "monitoring:trace_delivery": world.traced_delivery, "monitoring:trace_nursery": world.lot.nursery,
        "monitoring:trace_order": world.order, "monitoring:trace_day": world.cohort.planting_days.get(),
        "monitoring:trace_crew_day": world.traced_crew_day,
    }  # fmt: skip


def nouns(world: Any) -> dict[str, Any]:
    """Return {noun of a url name: row}."""
    return {}

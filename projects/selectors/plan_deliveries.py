"""When the plants of a plan should come, so that the crew gets them into the ground before they suffer."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from projects.calc.deliveries import Schedule, Task, people_needed, schedule
from projects.models import MixLine
from projects.selectors.plan_buying import Days, ToBuy
from projects.selectors.plans import PlanFrame

Source = tuple[str, str]  # nursery and stock type, in words


@dataclass(frozen=True)
class Comes:
    """One delivery in words: of whom, what stock, how many, when."""

    nursery: str
    stock_type: str
    stock_words: str
    quantity: int
    arrives_on: date
    planted_by: date


@dataclass(frozen=True)
class Deliveries:
    """The whole table, and whether it fits.

    Attributes
    ----------
    plants_a_day : what the crew plants in a day. [plants/day]
    left_over : lines that do not fit into their days, with the plants left. `people` would do it, None where no
        number would.
    without_days : plants of lines without any window or season.
    """

    rows: Sequence[Comes]
    crew_days: int
    plants_a_day: int
    left_over: Sequence[tuple[MixLine, int]]
    people: int | None
    without_days: int


def deliveries_of(
    frame: PlanFrame,
    bought: Sequence[ToBuy],
    days: Mapping[int, Days | None],
    wait_days: Mapping[str, int | None],
    days_a_week: int,
    today: date,
) -> Deliveries:
    """Pure arithmetic on what was read."""
    plan = frame.plan
    lines = {str(line.pk): line for line in frame.lines}
    tasks: list[Task] = []
    sources: dict[str, tuple[str, MixLine]] = {}
    for row in bought:
        nursery = main_seller(row)
        for line in row.lines:
            found = days[line.pk]
            if found is None:
                continue
            source = f"{nursery}\n{line.stock_type}"
            sources[source] = (nursery, line)
            limit = wait_days.get(line.stock_type)
            tasks.append(
                Task(str(line.pk), source, line.quantity, max(found.opens_on, today), found.closes_on, limit)
            )
    a_day = plan.crew_people * plan.trees_per_person_day
    found_days = schedule(tasks, max(a_day, 1), days_a_week)
    people = (
        people_needed(tasks, max(plan.trees_per_person_day, 1), days_a_week) if found_days.left_over else None
    )
    without = sum(line.quantity for line in frame.lines if days[line.pk] is None)
    left_over = [(lines[key], number) for key, number in found_days.left_over.items()]
    return Deliveries(_rows(found_days, sources), found_days.crew_days, a_day, left_over, people, without)


def main_seller(row: ToBuy) -> str:
    """The nursery that gives most of it, empty where nobody is known."""
    parts = [part for part in row.parts if part.offer is not None]
    best = max(parts, key=lambda part: part.quantity, default=None)
    return best.offer.nursery.name if best and best.offer else ""


def _rows(found: Schedule, sources: Mapping[str, tuple[str, MixLine]]) -> list[Comes]:
    return [
        Comes(
            sources[each.source][0], sources[each.source][1].stock_type,
            str(sources[each.source][1].get_stock_type_display()), each.quantity, each.arrives_on,
            each.planted_by,
        )
        for each in found.deliveries
    ]  # fmt: skip

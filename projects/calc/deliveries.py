"""Deliveries that a crew can plant before the stock suffers, inside the windows of the blocks.

One crew plants what must be in the ground first; where that does not fit, nothing else would. Dates are whole days.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

MOST_PEOPLE = 2000
LONGEST_PAUSE_DAYS = 14  # what is planted after a longer pause comes apart, limit or not; common practice


@dataclass(frozen=True, slots=True)
class Task:
    """Plants of one kind for one block.

    Attributes
    ----------
    key : what a page calls it.
    source : plants of one source and stock type can come in one delivery; tasks of one source share them.
    quantity : plants that go into the ground. [plants]
    opens_on, closes_on : first and last day.
    wait_days : days a delivery can wait, the day it comes counted; None where no limit is known. [days]
    """

    key: str
    source: str
    quantity: int
    opens_on: date
    closes_on: date
    wait_days: int | None = None


@dataclass(frozen=True, slots=True)
class Delivery:
    """Plants of one source that come together and are planted from `arrives_on` to `planted_by`."""

    source: str
    arrives_on: date
    planted_by: date
    quantity: int


@dataclass(frozen=True, slots=True)
class Schedule:
    """What comes when.

    Attributes
    ----------
    deliveries : in the order of their days.
    crew_days : days on which the crew plants. [days]
    left_over : plants that do not fit into their window, by key.
    """

    deliveries: Sequence[Delivery]
    crew_days: int
    left_over: dict[str, int]


def work_days(first: date, last: date, days_a_week: int) -> list[date]:
    """Days on which a crew plants: the first so many of each week, Monday first.

    >>> [day.isoweekday() for day in work_days(date(2026, 11, 2), date(2026, 11, 8), 5)]
    [1, 2, 3, 4, 5]
    """
    span = (last - first).days + 1
    days = (first + timedelta(days=n) for n in range(max(span, 0)))
    return [day for day in days if day.isoweekday() <= days_a_week]


def schedule(tasks: Iterable[Task], plants_a_day: int, days_a_week: int = 5) -> Schedule:
    """Plan the deliveries of one crew.

    Parameters
    ----------
    tasks : what is to be planted.
    plants_a_day : what the whole crew plants in a day, at least 1. [plants/day]
    days_a_week : 1..7.

    Raises
    ------
    ValueError
        If the crew plants nothing, or the week has no day.

    Notes
    -----
    Each day goes to the open task that closes first, which leaves the fewest plants over of all orders (Jackson
    1955; preemptive, one machine). A delivery ends when its next planting day would lie beyond what the stock can
    wait, so it holds at most `plants_a_day` × `wait_days`; stock without a limit comes anew after a long pause.

    Examples
    --------
    >>> task = Task("oaks", "Alto, bare-root", 4000, date(2026, 11, 2), date(2026, 11, 30), wait_days=7)
    >>> found = schedule([task], 600)
    >>> [(each.arrives_on.day, each.planted_by.day, each.quantity) for each in found.deliveries], found.crew_days
    ([(2, 6, 3000), (9, 10, 1000)], 7)
    """
    if plants_a_day < 1 or not 1 <= days_a_week <= 7:
        raise ValueError("a crew plants at least one tree a day, on one to seven days a week.")
    rows = [task for task in tasks if task.quantity > 0]
    planted, left, days = _day_by_day(rows, plants_a_day, days_a_week)
    deliveries = [each for source in sorted(planted) for each in _grouped(source, planted[source])]
    deliveries.sort(key=lambda each: (each.arrives_on, each.source))
    return Schedule(deliveries, days, {row.key: left[n] for n, row in enumerate(rows) if left[n]})


def _day_by_day(
    rows: Sequence[Task], plants_a_day: int, days_a_week: int
) -> tuple[dict[str, dict[date, tuple[int, int | None]]], list[int], int]:
    """By source: what is planted each day and how long it can wait; what is left of each task; days used."""
    left = [row.quantity for row in rows]
    planted: dict[str, dict[date, tuple[int, int | None]]] = defaultdict(dict)
    if not rows:
        return planted, left, 0
    order = sorted(range(len(rows)), key=lambda n: (rows[n].closes_on, rows[n].opens_on, n))
    days_used = 0
    first, last = min(row.opens_on for row in rows), max(row.closes_on for row in rows)
    for day in work_days(first, last, days_a_week):
        room = plants_a_day
        for n in order:
            row = rows[n]
            take = min(room, left[n]) if row.opens_on <= day <= row.closes_on else 0
            if take:
                before, wait = planted[row.source].get(day, (0, None))
                planted[row.source][day] = (before + take, _shorter(wait, row.wait_days))
                left[n] -= take
                room -= take
        days_used += room < plants_a_day
        if not any(left):
            break
    return planted, left, days_used


def _shorter(one: int | None, other: int | None) -> int | None:
    known = [days for days in (one, other) if days is not None]
    return min(known, default=None)


def _grouped(source: str, days: dict[date, tuple[int, int | None]]) -> list[Delivery]:
    """Join planting days of one source while the first plants can wait for the last."""
    found: list[Delivery] = []
    arrives: date | None = None
    for day in sorted(days):
        quantity, wait = days[day]
        is_too_late = arrives is not None and wait is not None and (day - arrives).days >= wait
        if arrives is None or is_too_late or (day - found[-1].planted_by).days > LONGEST_PAUSE_DAYS:
            arrives = day
            found.append(Delivery(source, day, day, quantity))
        else:
            last = found[-1]
            found[-1] = Delivery(source, last.arrives_on, day, last.quantity + quantity)
    return found


def people_needed(tasks: Iterable[Task], plants_each_a_day: int, days_a_week: int = 5) -> int | None:
    """Fewest people who get everything into the ground in time; None where no crew would, as a window has no day.

    >>> task = Task("oaks", "Alto", 4000, date(2026, 11, 2), date(2026, 11, 6))
    >>> people_needed([task], 100)
    8
    """
    rows = list(tasks)
    low, high = 0, MOST_PEOPLE
    if schedule(rows, high * plants_each_a_day, days_a_week).left_over:
        return None
    while high - low > 1:
        middle = (low + high) // 2
        fits = not schedule(rows, middle * plants_each_a_day, days_a_week).left_over
        low, high = (low, middle) if fits else (middle, high)
    return high


def order_by(first_day: date, weeks_to_wait: int, slack_weeks: int) -> date:
    """Last day to order: the first planting day less the nursery's time less the slack.

    >>> order_by(date(2026, 11, 2), 10, 2).isoformat()
    '2026-08-10'
    """
    return first_day - timedelta(weeks=weeks_to_wait + slack_weeks)

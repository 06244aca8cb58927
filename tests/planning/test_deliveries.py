"""Deliveries no larger than can be planted in time; of whom to buy; the last day to order."""

import itertools
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from projects.calc.buying import Bought, Seller, buy
from projects.calc.deliveries import Task, order_by, people_needed, schedule, work_days

MONDAY = date(2026, 11, 2)


def day(n):
    return MONDAY + timedelta(days=n)


tasks = st.lists(
    st.builds(
        lambda n, source, quantity, opens, length, wait: Task(
            f"t{n}", source, quantity, day(opens), day(opens + length), wait
        ),
        st.integers(0, 10**6), st.sampled_from(["a", "b"]), st.integers(1, 900), st.integers(0, 20),
        st.integers(0, 25), st.sampled_from([None, 1, 3, 7]),
    ),
    min_size=1, max_size=5, unique_by=lambda task: task.key,
)  # fmt: skip


def test_bare_root_comes_as_the_crew_can_plant_it_within_seven_days():
    """4 000 trees, 6 people, 100 a day each: at most 600 × 7 in a delivery, here 5 working days of it."""
    found = schedule([Task("oaks", "Alto", 4000, day(0), day(27), 7)], 600)
    assert [(row.arrives_on, row.planted_by, row.quantity) for row in found.deliveries] == [
        (day(0), day(4), 3000), (day(7), day(8), 1000),
    ]  # fmt: skip
    assert (found.crew_days, found.left_over) == (7, {})
    every_day = schedule([Task("oaks", "Alto", 5000, day(0), day(27), 7)], 600, 7)
    assert [row.quantity for row in every_day.deliveries] == [4200, 800]


def test_stock_without_a_limit_comes_at_once():
    found = schedule([Task("oaks", "Alto", 4000, day(0), day(27), None)], 600)
    assert [(row.quantity, row.planted_by) for row in found.deliveries] == [(4000, day(8))]


def test_what_closes_first_is_planted_first():
    late, early = Task("late", "a", 600, day(0), day(25)), Task("early", "b", 600, day(0), day(0))
    found = schedule([late, early], 600)
    assert [(row.source, row.arrives_on) for row in found.deliveries] == [("b", day(0)), ("a", day(1))]
    assert not found.left_over


def test_days_too_few_are_said_with_the_people_it_would_take():
    rows = [Task("oaks", "a", 1000, day(0), day(1))]
    assert schedule(rows, 300).left_over == {"oaks": 400}
    assert people_needed(rows, 100) == 5
    weekend = [Task("oaks", "a", 10, day(5), day(6))]
    assert people_needed(weekend, 100) is None
    assert people_needed(weekend, 100, 7) == 1


@settings(max_examples=30, deadline=None)
@given(tasks, st.integers(50, 400), st.integers(1, 7))
def test_no_plant_is_lost_and_none_waits_too_long(rows, a_day, days_a_week):
    found = schedule(rows, a_day, days_a_week)
    planted = sum(row.quantity for row in found.deliveries)
    assert planted + sum(found.left_over.values()) == sum(row.quantity for row in rows)
    waits = {}
    for row in rows:
        if row.wait_days is not None:
            waits[row.source] = min(waits.get(row.source, 10**6), row.wait_days)
    for row in found.deliveries:
        if all(task.wait_days == waits.get(task.source) for task in rows if task.source == row.source):
            limit = waits.get(row.source)
            assert limit is None or (row.planted_by - row.arrives_on).days < limit
            assert limit is None or row.quantity <= a_day * limit
        assert row.arrives_on.isoweekday() <= days_a_week


def most_that_fits(rows, a_day, days_a_week):
    """Brute force: by Hall's condition over every pair of days, the plants that can go in at all."""
    days = work_days(min(r.opens_on for r in rows), max(r.closes_on for r in rows), days_a_week)
    best = sum(row.quantity for row in rows)
    for chosen in range(2 ** len(rows)):
        group = [row for n, row in enumerate(rows) if chosen >> n & 1]
        open_days = {d for d in days if any(r.opens_on <= d <= r.closes_on for r in group)}
        outside = sum(row.quantity for n, row in enumerate(rows) if not chosen >> n & 1)
        best = min(best, a_day * len(open_days) + outside)
    return best


@settings(max_examples=30, deadline=None)
@given(tasks, st.integers(20, 300), st.integers(1, 7))
def test_no_other_order_would_plant_more(rows, a_day, days_a_week):
    """The most that fits is a flow; its smallest cut over sets of tasks is tried out in full."""
    found = schedule(rows, a_day, days_a_week)
    assert sum(row.quantity for row in found.deliveries) == most_that_fits(rows, a_day, days_a_week)


def test_the_last_day_to_order():
    assert order_by(date(2027, 2, 8), 12, 2) == date(2026, 11, 2)


@pytest.mark.parametrize("call", [lambda: schedule([], 0), lambda: schedule([], 10, 8), lambda: buy(-1, [])])
def test_what_cannot_be_is_refused(call):
    with pytest.raises(ValueError, match=r"plants|ask"):
        call()


sellers = st.lists(
    st.builds(Seller, st.integers(1, 9), st.one_of(st.none(), st.integers(5, 12)), st.integers(0, 5)),
    max_size=3,
)  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 20), sellers)
def test_no_other_way_of_buying_leaves_fewer_missing_or_costs_less(wanted, rows):
    """Every number of plants of every seller is tried."""
    found = buy(wanted, rows)
    choices = [
        [0, *range(max(row.fewest, 1), (25 if row.there_are is None else row.there_are) + 1)] for row in rows
    ]  # fmt: skip
    best = min(
        (max(wanted - sum(each), 0), sum(n * row.price_minor for n, row in zip(each, rows, strict=True)))
        for each in itertools.product(*choices)
    )
    cost = sum(n * row.price_minor for n, row in zip(found.quantities, rows, strict=True))
    assert (found.missing, cost) == best
    for n, row in zip(found.quantities, rows, strict=True):
        assert n == 0 or (n >= row.fewest and (row.there_are is None or n <= row.there_are))


def test_nobody_sells_it():
    assert buy(20, []) == Bought((), 20, 0)

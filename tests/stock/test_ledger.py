"""A lot's ledger balances, or reports exactly the gap; never a number evened out."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects.calc.ledger import OUTWARD, Count, Event, lot_ledger
from projects.models import LotMovement, PlantingDay, StockTake
from projects.selectors.ledgers import ledger_of, standings

DAY = date(2024, 2, 1)
days = st.integers(0, 60).map(lambda n: DAY + timedelta(days=n))
events = st.lists(st.builds(Event, st.sampled_from(OUTWARD), st.integers(1, 400), days), max_size=12)
counts = st.lists(st.builds(Count, days, st.integers(0, 1200)), max_size=3)


@given(st.integers(0, 2000), events, counts)
def test_received_is_everything_placed_plus_on_hand_plus_the_gap(received, history, takes):
    ledger = lot_ledger(received, history, takes)
    placed = sum(getattr(ledger, kind) for kind in OUTWARD)
    assert ledger.received == placed + ledger.at_hand + ledger.gap
    assert ledger.at_hand >= 0


@given(st.integers(0, 2000), events)
def test_without_a_count_nothing_is_called_counted_and_only_too_many_can_be_a_gap(received, history):
    ledger = lot_ledger(received, history, [])
    assert ledger.on_hand is None
    assert ledger.gap == min(0, received - sum(event.quantity for event in history))


@given(st.integers(0, 2000), events, days)
def test_a_count_of_exactly_what_is_left_leaves_no_gap(received, history, day):
    """A true count is what the records expect at the end of its day, so the gap stays 0 whatever follows."""
    fits, left = [], received
    for event in sorted(history, key=lambda event: event.on):
        if event.quantity <= left:
            fits.append(event)
            left -= event.quantity
    true = received - sum(event.quantity for event in fits if event.on <= day)
    assert lot_ledger(received, fits, [Count(day, true)]).gap == 0


@given(st.integers(500, 2000), events, days, st.integers(1, 499))
def test_a_count_short_by_some_reports_exactly_that_gap(received, history, day, missing):
    fits, left = [], received - missing
    for event in sorted(history, key=lambda event: event.on):
        if event.quantity <= left:
            fits.append(event)
            left -= event.quantity
    true = received - sum(event.quantity for event in fits if event.on <= day)
    assert lot_ledger(received, fits, [Count(day, true - missing)]).gap == missing


@given(events, counts, st.randoms())
def test_the_order_of_entry_does_not_matter(history, takes, random):
    takes = list({take.on: take for take in takes}.values())
    shuffled, taken = list(history), list(takes)
    random.shuffle(shuffled)
    random.shuffle(taken)
    assert lot_ledger(900, shuffled, taken) == lot_ledger(900, history, takes)


def test_of_two_counts_on_one_day_the_later_entry_counts():
    assert lot_ledger(10, [], [Count(DAY, 4), Count(DAY, 6)]).on_hand == 6


@pytest.mark.parametrize("bad", [[Event("eaten", 1, DAY)], [Event("planted", -1, DAY)]])
def test_nonsense_is_no_history(bad):
    with pytest.raises(ValueError, match=r"Unknown kind|negative"):
        lot_ledger(10, bad, [])


def test_the_database_gives_the_same_ledger(hill, lot, block, cohort):
    """1000 received: 500 planted on 10 February, 30 culled, 20 given out and taken back, 400 counted."""
    LotMovement.objects.create(
        organisation=hill, lot=lot, kind="culled", quantity=30, moved_on=date(2024, 2, 5)
    )
    voided = {"voided_at": "2024-03-01T00:00Z"}
    LotMovement.objects.create(
        organisation=hill, lot=lot, kind="given_out", quantity=20, moved_on=date(2024, 2, 6), **voided
    )
    PlantingDay.objects.create(
        organisation=hill,
        block=block,
        cohort=cohort,
        lot=lot,
        planted_on=date(2024, 2, 12),
        quantity=9,
        **voided,
    )
    StockTake.objects.create(organisation=hill, lot=lot, counted_on=date(2024, 2, 7), on_hand=960)
    ledger = ledger_of(lot)
    assert (ledger.planted, ledger.culled, ledger.given_out) == (500, 30, 0)
    assert (ledger.on_hand, ledger.expected_on_hand, ledger.gap) == (460, 470, 10)


def test_ledgers_of_many_lots_cost_as_many_queries_as_of_one(hill, oak, django_assert_num_queries):
    from tests import factories

    lots = [factories.lot(hill, oak) for _ in range(20)]
    with django_assert_num_queries(7):
        assert len(standings(lots, DAY)) == 20

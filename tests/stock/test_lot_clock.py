"""The clock counts days out of store between lifting and planting, and stands still in store."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects.calc.lot_clock import Span, limit_for, lot_clock

LIFTED = date(2024, 2, 1)


def after(days):
    return LIFTED + timedelta(days=days)


spans = st.lists(
    st.tuples(st.integers(-5, 40), st.integers(0, 20) | st.none()).map(
        lambda pair: Span(after(pair[0]), None if pair[1] is None else after(pair[0] + pair[1]))
    ),
    max_size=4,
)


@given(spans, st.integers(0, 60))
def test_days_out_and_days_stored_are_all_the_days_since_lifting(stores, days):
    clock = lot_clock(LIFTED, stores, on=after(days), limit_days=7)
    assert clock.days_out + clock.days_stored == days
    assert clock.days_out >= 0


@given(spans, st.integers(0, 60))
def test_the_clock_never_runs_backwards_and_storing_never_adds_days(stores, days):
    now, tomorrow = (lot_clock(LIFTED, stores, on=after(n), limit_days=7).days_out for n in (days, days + 1))
    assert now <= tomorrow <= now + 1
    assert now <= lot_clock(LIFTED, [], on=after(days), limit_days=7).days_out


def test_a_lot_left_out_eleven_days_is_four_days_over():
    clock = lot_clock(LIFTED, [], on=after(11), limit_days=limit_for("bare_root"))
    assert (clock.days_out, clock.days_left, clock.is_over) == (11, -4, True)
    assert clock.plant_by == after(7)


def test_a_lot_cold_stored_for_weeks_may_still_be_fresh():
    clock = lot_clock(LIFTED, [Span(after(2), after(40))], on=after(44), limit_days=7)
    assert (clock.days_out, clock.days_stored, clock.is_over) == (6, 38, False)


def test_the_last_day_does_not_move_while_the_lot_stays_out():
    assert {lot_clock(LIFTED, [], on=after(n), limit_days=7).plant_by for n in range(10)} == {after(7)}


def test_in_store_there_is_no_last_day():
    clock = lot_clock(LIFTED, [Span(after(1))], on=after(30), limit_days=7)
    assert (clock.in_store, clock.plant_by, clock.days_out) == (True, None, 1)


def test_overlapping_stores_are_counted_once():
    stores = [Span(after(1), after(6)), Span(after(3), after(8))]
    assert lot_clock(LIFTED, stores, on=after(10), limit_days=7).days_stored == 7


def test_stock_in_pots_has_no_limit_here():
    clock = lot_clock(LIFTED, [], on=after(100), limit_days=limit_for("container"))
    assert (clock.limit_days, clock.days_left, clock.plant_by, clock.is_over) == (None, None, None, False)


def test_planting_before_lifting_is_no_question():
    with pytest.raises(ValueError, match="lifted"):
        lot_clock(LIFTED, [], on=after(-1), limit_days=7)

"""Care of young trees against printed rules of thumb and arithmetic."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from projects.calc import care_amounts as care
from projects.calc import soil_water
from projects.calc import stock_handling as stock
from tests.published.rows import checks


@checks("J3")
def test_pit_backfill_and_amendment():
    """J3, arithmetic: a hole of 1.8 by 0.39 m about a 60 cm ball: 992 L, backfill 919, a quarter of it 230."""
    pit = care.pit_m3(1.8, 0.39)
    assert round(pit, 3) == 0.992
    assert round(pit * 1000 - stock.root_ball_litres(60)) == 919
    assert round(care.amendment_cap_litres(pit, stock.root_ball_litres(60), 0.25)) == 230
    assert care.amendment_cap_litres(0.05, 73.5) == 0  # no backfill, nothing to mix in


@checks("J4")
def test_water_by_calliper():
    """J4, read: extension pages (1.5 gallons an inch a day, 10 a week) and Georgia's forestry commission (5 to 7.5)."""
    daily, weekly, georgia = care.WATERING_RULES
    assert [round(rule.least, 2) for rule in (daily, weekly)] == [2.24, 14.90]
    assert [round(each, 1) for each in georgia.litres(1)] == [7.5, 11.2]
    assert (daily.days, weekly.days, georgia.days) == (1, 7, 7)
    assert weekly.most / georgia.most == pytest.approx(1.33, abs=0.005)
    assert weekly.most / georgia.least == pytest.approx(2.0)


@checks("J5", "J6", "X12")
def test_mulch_nutrients_and_guards():
    """J5, X12, arithmetic; J6, arithmetic on atomic masses: 0.4364 and 0.8301, which cuts 0.83015 short."""
    assert care.mulch_litres(1.0, 7.5) == pytest.approx(58.9, abs=0.05)
    nitrogen, phosphorus, potassium = care.elements_of_label(1, 1, 1)
    assert nitrogen == 1
    assert phosphorus == pytest.approx(0.4364, abs=5e-5)
    assert int(potassium * 10_000) == 8301
    assert care.break_even_trees(400, 12, 3.20) == pytest.approx(1500)


@checks("J8")
def test_days_until_the_easy_water_is_gone():
    """J8, arithmetic: 0.30 m of 150 mm/m soil at p 0.5 holds 22.5 mm easily; at 5 mm a day and Kc 0.5 for 9 days."""
    easy = soil_water.readily_available_mm(0.30, 150, 0.5)
    assert easy == pytest.approx(22.5)
    assert care.days_between_waterings(easy, 5, 0.5) == pytest.approx(9)
    given_mm = care.watering_depths([0.0] * 30, [2.5] * 30, easy)
    assert [day + 1 for day, depth in enumerate(given_mm) if depth] == [9, 18, 27]
    assert care.days_between_waterings(easy, 0) == math.inf


amounts = st.lists(
    st.tuples(st.floats(0, 60, allow_subnormal=False), st.floats(0, 12, allow_subnormal=False)), max_size=60
)


@settings(deadline=None, derandomize=True)
@given(amounts, st.floats(1, 80), st.floats(0, 20))
def test_watering_keeps_the_tree_out_of_stress_and_rain_never_asks_for_more(days, easy, more_rain):
    rain, use = [day[0] for day in days], [day[1] for day in days]
    depths = care.watering_depths(rain, use, easy)
    used = 0.0
    for r, u, depth in zip(rain, use, depths, strict=True):
        used = max(used - r, 0) + u - depth
        assert -1e-9 <= used < easy
        assert depth == 0 or depth >= easy
    assert sum(depths) <= sum(use) + 1e-9
    first = next((at for at, depth in enumerate(depths) if depth), len(days))
    wetter = care.watering_depths([r + more_rain for r in rain], use, easy)
    assert next((at for at, depth in enumerate(wetter) if depth), len(days)) >= first


@pytest.mark.parametrize(
    "call",
    [
        lambda: care.watering_litres_per_cm(-1),
        lambda: care.WATERING_RULES[0].litres(float("nan")),
        lambda: care.days_between_waterings(22.5, -5),
        lambda: care.litres_of_depth(-1, 1),
        lambda: care.watering_depths([1], [1, 2], 5),
        lambda: care.watering_depths([1], [1], 0),
        lambda: care.watering_depths([-1], [1], 5),
        lambda: care.pit_m3(float("inf"), 1),
        lambda: care.amendment_cap_litres(1, 70, 1.5),
        lambda: care.mulch_litres(1, -5),
        lambda: care.elements_of_label(10, -1, 0),
        lambda: care.break_even_trees(400, 12, 0),
    ],
)
def test_what_cannot_be_is_refused(call):
    with pytest.raises(ValueError, match="must"):
        call()

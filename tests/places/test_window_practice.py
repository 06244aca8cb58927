"""What foresters say of planting dates, for five invented climates and some hard places. Common practice, no source.

The climates are those of `test_planting_windows`; each statement is tested for every stock type it speaks of.
"""

from datetime import date, timedelta

import numpy as np
import pytest

from projects.calc.planting_windows import REASONS, RULES, Window, day_by_day, planting_year
from projects.selectors.planting_windows import dated, day_of, shut_days
from projects.selectors.year_ribbon import NARROW, WIDE, day_number, letters_of, ribbon
from tests.places.test_planting_windows import (
    DRY_SUMMER,
    HARD_WINTER,
    ONE_RAIN,
    SOUTH,
    TWO_RAINS,
    month,
    seen,
)

CLIMATES = {"hard": HARD_WINTER, "dry": DRY_SUMMER, "two": TWO_RAINS, "one": ONE_RAIN, "south": SOUTH}
# 68° N: frost-free for three months, rain all year; and the equator with rain all year. Invented.
FAR_NORTH = (
    [-14, -14, -11, -5, 1, 6, 9, 8, 3, -2, -8, -12], [-7, -6, -2, 3, 9, 15, 18, 16, 10, 3, -2, -5],
    [35, 30, 30, 30, 35, 45, 65, 70, 55, 50, 45, 40], 68,
)  # fmt: skip
EQUATOR = ([22] * 12, [30] * 12, [220, 210, 250, 260, 240, 200, 180, 190, 210, 240, 260, 250], 0)
NOT_DORMANT_NEEDED = sorted(name for name, rules in RULES.items() if not rules.needs_dormancy)
DORMANT_NEEDED = sorted(name for name, rules in RULES.items() if rules.needs_dormancy)


def on(name, day):
    """The day's number."""
    return (date(2023, name, day) - date(2023, 1, 1)).days


# --- hard winters -------------------------------------------------------------------------------
@pytest.mark.parametrize("stock", sorted(RULES))
def test_where_winters_are_hard_nothing_is_planted_into_frozen_ground_or_just_before_it(stock):
    year = seen(HARD_WINTER, stock)
    assert not year.open[: on(3, 15)].any()
    assert not year.open[on(10, 15) :].any()
    assert month(year.windows[0].best) in (3, 4)


def test_hard_frost_is_why_autumn_ends_and_roots_get_their_weeks_before_it():
    for stock in ("bare_root", "container", "wildling", "direct_seed"):
        year = seen(HARD_WINTER, stock)
        last = max(window.closes for window in year.windows)
        assert REASONS[year.reason[(last + 1) % 365]] == "frost_ahead"
        assert RULES[stock].root_weeks <= year.root_weeks[last] < RULES[stock].root_weeks + 1 / 7 + 1e-9


def test_bare_root_is_for_early_spring_and_late_autumn_and_never_for_summer():
    year = seen(HARD_WINTER, "bare_root")
    assert {month(day) for day in np.flatnonzero(year.open)} <= {3, 4, 5, 9, 10}
    assert not year.open[on(6, 1) : on(9, 1)].any()
    assert set(year.reason[on(6, 1) : on(9, 1)]) == {REASONS.index("stock_not_dormant")}


def test_a_heavy_root_ball_wants_more_weeks_and_so_loses_autumn():
    """Most roots are cut when it is lifted: what is left of autumn is too short where winters are hard."""
    bare, balled = seen(HARD_WINTER, "bare_root"), seen(HARD_WINTER, "balled_burlapped")
    assert bare.open[on(9, 1) :].any()
    assert not balled.open[on(9, 1) :].any()
    assert np.array_equal(bare.open[: on(6, 1)], balled.open[: on(6, 1)])


def test_frost_heave_takes_autumn_from_small_plugs_only_and_leaves_them_spring():
    for stock in RULES:
        firm, wet = seen(HARD_WINTER, stock), seen(HARD_WINTER, stock, wet_fine_soil=True)
        assert np.array_equal(firm.open, wet.open) == (stock != "container")
    firm, wet = seen(HARD_WINTER), seen(HARD_WINTER, wet_fine_soil=True)
    lost = firm.open & ~wet.open
    assert not lost[on(5, 15) : on(8, 1)].any()
    assert lost[on(9, 1) : on(9, 20)].all()
    assert wet.open[on(5, 15) : on(8, 1)].all()
    assert set(wet.reason[lost]) == {REASONS.index("frost_heave")}


# --- warm dry summers ---------------------------------------------------------------------------
@pytest.mark.parametrize("stock", sorted(RULES))
def test_where_summers_are_dry_autumn_and_winter_beat_spring(stock):
    year = seen(DRY_SUMMER, stock)
    (window,) = year.windows
    assert month(window.best) in (10, 11)
    assert year.open[on(12, 1) :].all() and year.open[: on(3, 1)].all()
    assert year.root_weeks[on(12, 1)] > year.root_weeks[on(2, 1)] > year.root_weeks[on(4, 1)]
    assert not year.open[on(5, 15) : on(10, 15)].any()


def test_dry_summers_close_on_stock_that_could_still_go_in_because_of_the_drought_to_come():
    for stock in NOT_DORMANT_NEEDED:
        (window,) = seen(DRY_SUMMER, stock).windows
        assert (window.opens_because, window.closes_because) == ("soil_dry", "drought_ahead")
        assert month(window.closes) in (4, 5)


# --- rains --------------------------------------------------------------------------------------
@pytest.mark.parametrize("stock", NOT_DORMANT_NEEDED)
@pytest.mark.parametrize("climate", [ONE_RAIN, TWO_RAINS])
def test_in_the_tropics_the_rains_open_every_window_and_the_first_wet_week_is_the_best(climate, stock):
    tmin, tmax, rain, latitude = climate
    year = day_by_day(tmin, tmax, rain, latitude, capacity_mm=80)
    found = planting_year(year, RULES[stock])
    assert len(found.windows) == (1 if climate is ONE_RAIN else 2)
    for window in found.windows:
        assert window.opens_because == "soil_dry"
        assert window.closes_because in ("soil_dry", "drought_ahead")
        assert window.best == window.opens
        assert year.water_share[window.opens] > year.water_share[(window.opens - 7) % 365]


def test_one_rain_leaves_the_last_weeks_of_it_to_roots():
    tmin, tmax, rain, latitude = ONE_RAIN
    year = day_by_day(tmin, tmax, rain, latitude, capacity_mm=80)
    (window,) = planting_year(year, RULES["container"]).windows
    dry = next(day for day in range(window.closes, 400) if year.water_share[day % 365] < 0.25)
    assert 42 <= dry - window.closes <= 43
    assert year.water_share[window.closes] > 0.5


@pytest.mark.parametrize("climate", [ONE_RAIN, TWO_RAINS, EQUATOR])
@pytest.mark.parametrize("stock", DORMANT_NEEDED)
def test_where_nothing_rests_stock_that_must_rest_has_no_window_and_that_is_why(climate, stock):
    year = seen(climate, stock)
    assert year.windows == ()
    codes, days = np.unique(year.reason, return_counts=True)
    assert REASONS[codes[days.argmax()]] == "stock_not_dormant"


# --- the two halves of the Earth ----------------------------------------------------------------
def turned(climate):
    """The same place on the other half: months shifted by six, latitude mirrored."""
    return (*(series[6:] + series[:6] for series in map(list, climate[:3])), -climate[3])


@pytest.mark.parametrize("stock", sorted(RULES))
@pytest.mark.parametrize("name", sorted(CLIMATES))
def test_the_south_is_the_north_half_a_year_later(name, stock):
    """Not to the day: halves of the calendar differ by three days, and the Earth is nearest the sun in January."""
    here, there = seen(CLIMATES[name], stock), seen(turned(CLIMATES[name]), stock)
    assert len(here.windows) == len(there.windows)

    def key(window):
        return window.opens % 365

    shifted = {(window.opens + 182) % 365: window for window in here.windows}
    for window in there.windows:
        apart = {abs((key(window) - opens + 182) % 365 - 182): w for opens, w in shifted.items()}
        nearest = apart[min(apart)]
        assert min(apart) <= 9
        assert abs(nearest.days - window.days) <= 12
        assert (nearest.opens_because, nearest.closes_because) == (
            window.opens_because, window.closes_because,
        )  # fmt: skip


# --- container stock ----------------------------------------------------------------------------
@pytest.mark.parametrize("name", sorted(CLIMATES))
def test_container_stock_is_the_least_tied_to_dates(name):
    days = {stock: int(seen(CLIMATES[name], stock).open.sum()) for stock in RULES}
    assert days["container"] == max(days.values())
    for stock in DORMANT_NEEDED:
        assert days[stock] < days["container"]


# --- hard places --------------------------------------------------------------------------------
@pytest.mark.parametrize("latitude", [66, 66.56, 67, 68, 69, 70, -66.56, -70])
@pytest.mark.parametrize("stock", sorted(RULES))
def test_under_the_midnight_sun_spring_and_summer_are_open_and_nothing_breaks(latitude, stock):
    climate = (*FAR_NORTH[:3], latitude) if latitude > 0 else turned((*FAR_NORTH[:3], -latitude))
    tmin, tmax, rain, _ = climate
    days = day_by_day(tmin, tmax, rain, latitude, capacity_mm=80)
    for series in (days.soil_c, days.water_share, days.cold_night_c):
        assert np.isfinite(series).all()
    year = planting_year(days, RULES[stock])
    winter = np.r_[0 : on(4, 1), on(11, 1) : 365] if latitude > 0 else np.r_[on(5, 15) : on(9, 15)]
    assert not year.open[winter].any()
    assert month(year.windows[0].best) in ((4, 5) if latitude > 0 else (10, 11))


@pytest.mark.parametrize("stock", NOT_DORMANT_NEEDED)
def test_on_the_wet_equator_the_whole_year_is_one_window_that_nothing_closes(stock):
    (window,) = seen(EQUATOR, stock).windows
    assert (window.days, window.opens_because, window.closes_because) == (365, "", "")


def test_permanent_cold_and_permanent_drought_have_no_window_and_say_why():
    ice = seen(([-25] * 12, [-10] * 12, [40] * 12, 72))
    assert ice.windows == () and set(ice.reason) == {REASONS.index("ground_frozen")}
    sand = seen(([20] * 12, [36] * 12, [2] * 12, 24))
    assert sand.windows == () and set(sand.reason) == {REASONS.index("soil_dry")}
    warm_wet = seen(([24] * 12, [40] * 12, [300] * 12, 5))
    assert warm_wet.windows == () and set(warm_wet.reason) == {REASONS.index("heat_ahead")}


# --- dates --------------------------------------------------------------------------------------
def test_a_window_over_the_new_year_is_one_window():
    window = next(w for w in seen(TWO_RAINS).windows if month(w.opens) == 11)
    assert window.opens < 365 <= window.closes
    found = dated(window, date(2026, 12, 31))
    assert (found.opens_on.year, found.closes_on.year) == (2026, 2027)
    assert dated(window, found.closes_on).closes_on == found.closes_on
    after = dated(window, found.closes_on + timedelta(days=1))
    assert (after.opens_on.year, after.closes_on.year) == (2027, 2028)


@pytest.mark.parametrize("year", [2023, 2024, 2027, 2028, 2100])
def test_day_numbers_are_the_same_calendar_days_in_leap_years(year):
    assert day_of(0, year) == date(year, 1, 1)
    assert day_of(58, year) == date(year, 2, 28)
    assert day_of(59, year) == date(year, 3, 1)
    assert day_of(364, year) == date(year, 12, 31)
    assert day_of(365, year) == date(year + 1, 1, 1)
    assert day_of(365 + 59, year) == date(year + 1, 3, 1)
    assert all(day_number(day_of(number, year)) == number for number in range(365))
    assert day_number(date(2028, 2, 29)) == day_number(date(2028, 2, 28))


@pytest.mark.parametrize("today", [date(2028, 2, 28), date(2028, 2, 29), date(2028, 3, 1)])
def test_a_window_that_ends_with_february_is_over_in_march(today):
    window = Window(opens=20, closes=58, best=20, root_weeks=9, opens_because="", closes_because="")
    found = dated(window, today)
    assert found.closes_on >= today
    assert found.closes_on == (date(2028, 2, 28) if today.day == 28 else date(2029, 2, 28))


def test_months_in_which_a_site_is_shut():
    assert shut_days(None) is None
    assert np.flatnonzero(shut_days((2, 3))).tolist() == list(range(31, 90))
    over = shut_days((12, 1))
    assert np.flatnonzero(over).tolist() == [*range(31), *range(334, 365)]
    assert shut_days((1, 12)).all()
    assert sum(shut_days((n, n)).sum() for n in range(1, 13)) == 365


# --- the drawing --------------------------------------------------------------------------------
@pytest.mark.parametrize("width", [WIDE, NARROW])
@pytest.mark.parametrize("name", sorted(CLIMATES))
def test_the_drawing_says_what_the_windows_say(name, width):
    tmin, tmax, rain, latitude = CLIMATES[name]
    days = day_by_day(tmin, tmax, rain, latitude, capacity_mm=80)
    years = {stock: planting_year(days, rules) for stock, rules in RULES.items()}
    drawn = ribbon(days, years, dict.fromkeys(RULES, ""), RULES, date(2026, 7, 1), width)
    letters = letters_of(years.values())
    assert len(set(letters.values())) == len(letters)
    for row, found in zip(drawn.rows, years.values(), strict=True):
        inside = sum(window.days for window in found.windows)
        assert sum(bar[1] for bar in row.bars) == pytest.approx(inside * width / 365, abs=0.2)
        assert sorted(row.latest) == pytest.approx(
            sorted((window.closes % 365 + 1) * width / 365 for window in found.windows), abs=0.1
        )
        told = [(window.opens_because, window.closes_because) for window in found.windows]
        assert [mark.letter for mark in row.marks] == [
            letters[end] for opens, closes in told for end in (("opens", opens), ("closes", closes))
        ]
    for x, wide in [bar for row in drawn.rows for bar in row.bars]:
        assert 0 <= x <= x + wide <= width + 0.1
    assert all(0 <= mark.x <= width for row in drawn.rows for mark in row.marks)
    assert drawn.today == pytest.approx(181 * width / 365, abs=0.1)


def test_the_drawing_of_a_whole_open_year_has_no_ends():
    tmin, tmax, rain, latitude = EQUATOR
    days = day_by_day(tmin, tmax, rain, latitude, capacity_mm=80)
    years = {"container": planting_year(days, RULES["container"])}
    (row,) = ribbon(days, years, {"container": ""}, RULES, date(2026, 7, 1), WIDE).rows
    assert (list(row.bars), list(row.latest), list(row.marks)) == ([(0.0, float(WIDE))], [], [])

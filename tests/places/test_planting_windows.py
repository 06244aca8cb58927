"""Planting windows of four invented climates say what foresters say, with no source but common practice."""

from datetime import date, timedelta

import numpy as np
import pytest

from projects.calc.planting_windows import (
    RULES,
    StockRules,
    day_by_day,
    planting_year,
)

# Mean daily minimum, mean daily maximum and rain by month, and latitude; invented.
HARD_WINTER = (
    [-12, -11, -5, 1, 7, 12, 14, 13, 8, 3, -2, -8], [-3, -1, 5, 12, 19, 24, 26, 25, 19, 12, 4, -1],
    [40, 35, 45, 55, 70, 80, 85, 80, 65, 60, 55, 45], 47,
)  # fmt: skip
DRY_SUMMER = (
    [5, 5, 7, 8, 11, 15, 17, 17, 15, 12, 8, 6], [13, 14, 17, 19, 23, 28, 32, 32, 28, 22, 17, 14],
    [90, 80, 60, 55, 35, 10, 3, 5, 25, 75, 95, 100], 39,
)  # fmt: skip
TWO_RAINS = (
    [11, 11, 12, 13, 13, 12, 11, 11, 11, 12, 12, 11], [24, 25, 25, 23, 22, 21, 20, 21, 23, 24, 22, 23],
    [45, 40, 90, 200, 150, 35, 20, 25, 30, 80, 180, 85], -1.2,
)  # fmt: skip
ONE_RAIN = (
    [10, 12, 16, 20, 22, 22, 22, 22, 21, 19, 14, 11], [28, 31, 35, 36, 35, 32, 31, 31, 32, 32, 30, 28],
    [1, 3, 8, 25, 90, 180, 260, 280, 170, 40, 5, 1], 14,
)  # fmt: skip
SOUTH = (
    [13, 13, 11, 8, 6, 4, 3, 4, 6, 8, 10, 12], [27, 27, 24, 20, 16, 13, 12, 14, 17, 20, 23, 26],
    [20, 18, 30, 70, 110, 140, 135, 110, 70, 45, 30, 25], -36,
)  # fmt: skip


def seen(climate, stock="container", **options):
    tmin, tmax, rain, latitude = climate
    year = day_by_day(tmin, tmax, rain, latitude, capacity_mm=80)
    return planting_year(year, RULES[stock], **options)


def month(day):
    return (date(2023, 1, 1) + timedelta(days=int(day) % 365)).month


def test_hard_winters_give_spring_and_a_short_autumn():
    """Plant early enough in autumn, or in spring, for roots to settle before frost."""
    spring, autumn = seen(HARD_WINTER, "bare_root").windows
    assert (month(spring.opens), month(spring.closes)) == (3, 5)
    assert (spring.opens_because, spring.closes_because) == ("ground_frozen", "stock_not_dormant")
    assert (month(autumn.opens), month(autumn.closes)) == (9, 10)
    assert autumn.closes_because == "frost_ahead"
    assert spring.root_weeks > autumn.root_weeks
    later = seen(HARD_WINTER, "bare_root").open
    assert not later[320:].any() and not later[:60].any()


def test_dry_summers_favour_autumn_and_winter_over_spring():
    year = seen(DRY_SUMMER)
    (window,) = year.windows
    assert (month(window.opens), month(window.best)) == (11, 11)
    assert window.opens_because == "soil_dry"
    assert window.closes_because == "drought_ahead"
    november, january, march = (year.root_weeks[day] for day in (319, 15, 74))
    assert november > january > march
    assert not year.open[152:300].any()


def test_bare_root_stock_goes_in_while_dormant_and_the_soil_is_moist():
    bare, container = seen(DRY_SUMMER, "bare_root"), seen(DRY_SUMMER)
    assert bare.open.sum() < container.open.sum()
    assert not (bare.open & ~container.open).any()
    assert {month(day) for day in np.flatnonzero(bare.open)} <= {11, 12, 1, 2, 3}


def test_two_rains_give_two_windows_each_opened_by_rain():
    windows = seen(TWO_RAINS).windows
    assert len(windows) == 2
    assert {month(window.opens) for window in windows} <= {3, 4, 10, 11}
    assert {window.opens_because for window in windows} == {"soil_dry"}


def test_where_nothing_rests_there_is_no_window_for_bare_root_stock():
    year = seen(TWO_RAINS, "bare_root")
    assert year.windows == ()
    assert not year.open.any()


def test_one_rain_gives_one_window_at_its_onset_and_closes_before_its_end():
    """Young trees need weeks of moist soil before the dry months."""
    rules = StockRules(root_weeks=8, heat_c=38)
    tmin, tmax, rain, latitude = ONE_RAIN
    (window,) = planting_year(day_by_day(tmin, tmax, rain, latitude, capacity_mm=80), rules).windows
    assert month(window.opens) in (6, 7)
    assert window.opens_because == "soil_dry"
    assert window.closes_because == "drought_ahead"
    assert window.best == window.opens


def test_the_southern_hemisphere_is_turned_by_half_a_year():
    (window,) = seen(SOUTH, "bare_root").windows
    assert (month(window.opens), month(window.closes)) == (5, 9)
    turned = tuple([series[6:] + series[:6] for series in SOUTH[:3]] + [36])
    (mirrored,) = seen(turned, "bare_root").windows
    assert (mirrored.opens - window.opens) % 365 == pytest.approx(183, abs=8)


def test_frost_heave_closes_autumn_for_small_plugs_on_wet_fine_soil():
    dry, wet = seen(HARD_WINTER), seen(HARD_WINTER, wet_fine_soil=True)
    assert dry.open[250:270].any()
    assert not wet.open[250:365].any()
    assert wet.windows[0].closes_because in ("frost_heave", "frost_ahead")
    assert np.array_equal(
        seen(HARD_WINTER, "bare_root").open, seen(HARD_WINTER, "bare_root", wet_fine_soil=True).open
    )


def test_a_site_that_cannot_be_reached_closes_its_days_and_says_so():
    shut = np.zeros(365, bool)
    shut[300:345] = True
    year = seen(DRY_SUMMER, site_closed=shut)
    assert not year.open[shut].any()
    assert year.windows[0].opens_because == "site_closed"


def test_a_desert_has_no_window_and_every_day_a_reason():
    year = seen((DRY_SUMMER[0], DRY_SUMMER[1], [1] * 12, 39))
    assert year.windows == ()
    assert (year.reason > 0).all()


def test_a_gentle_wet_climate_is_open_all_year():
    year = seen(([8] * 12, [16] * 12, [120] * 12, 50))
    (window,) = year.windows
    assert (window.days, window.opens_because, window.closes_because) == (365, "", "")


def test_windows_are_ranked_and_the_best_week_has_the_most_root_growth():
    for climate in (HARD_WINTER, DRY_SUMMER, TWO_RAINS, SOUTH):
        year = seen(climate)
        ranks = [window.root_weeks for window in year.windows]
        assert ranks == sorted(ranks, reverse=True)
        for window in year.windows:
            days = np.arange(window.opens, window.closes + 1) % 365
            assert year.open[days].all()
            assert window.root_weeks >= year.root_weeks[days].mean()
            assert window.opens <= window.best <= window.closes


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ((0, [1] * 11), "twelve"),
        ((2, [10] * 13), "twelve"),
        ((0, [40] * 12), "above its maximum"),
    ],
)
def test_normals_that_cannot_be_are_refused(change, words):
    series = list(DRY_SUMMER)
    series[change[0]] = change[1]
    with pytest.raises(ValueError, match=words):
        seen(tuple(series))

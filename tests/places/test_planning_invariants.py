"""What must hold of sun, water, windows, seed and spacing anywhere: poles, deserts, leap days, both hemispheres."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from projects.calc import diversity, seed, spacing, sun
from projects.calc import evapotranspiration as et
from projects.calc.daily_normals import DAYS_OF_MONTHS, daily_from_monthly
from projects.calc.planting_windows import (
    DAYS,
    REASONS,
    RULES,
    DayByDay,
    StockRules,
    day_by_day,
    degree_days,
    planting_year,
)
from projects.calc.soil_water import daily_balance, effective_rain_mm, monthly_balance

days = st.integers(1, 366)
latitudes = st.floats(-90, 90)
# The same examples each time and no clock: a busy machine is no fault.
quick = settings(max_examples=60, deadline=None, derandomize=True)
slow = settings(max_examples=15, deadline=None, derandomize=True, phases=[Phase.explicit, Phase.generate])


def months(low, high):
    """Twelve values as a weather office prints them, to a hundredth."""
    return arrays(int, 12, elements=st.integers(100 * low, 100 * high)).map(lambda values: values / 100)


def halves(low, high):
    """Numbers whose sums and halves are exact, so that equal is equal."""
    return st.integers(64 * low, 64 * high).map(lambda n: n / 64)


# --- sun and demand -----------------------------------------------------------------------------
@quick
@given(days, latitudes)
def test_day_and_night_share_the_two_halves_of_the_earth(day, latitude):
    here, there = (float(sun.daylight_hours(day, side * latitude)) for side in (1, -1))
    assert here + there == pytest.approx(24, abs=1e-6)  # an arc cosine near its ends keeps half its digits
    assert 0 <= here <= 24
    assert 0 <= float(sun.extraterrestrial_radiation(day, latitude)) < 48


@quick
@given(latitudes)
def test_the_sun_runs_smoothly_through_new_year_and_the_leap_day(latitude):
    """A day more or less is no jump, in a year of 365 days or 366.

    The steepest change is at the poles in the polar day: 118 MJ × 0.409 rad × 2π/365 and 3 % for the distance.
    """
    ra = sun.extraterrestrial_radiation(np.arange(1, 367), latitude)
    assert np.abs(np.diff(ra)).max() < 0.9
    assert abs(ra[0] - ra[364]) < 0.9
    assert abs(ra[0] - ra[365]) < 0.9


@quick
@given(days, latitudes, halves(-60, 45), halves(0, 30), halves(0, 10))
def test_hargreaves_grows_with_warmth_and_with_range(day, latitude, low, span, more):
    eto = float(et.hargreaves_of_day(day, latitude, low, low + span))
    assert 0 <= eto < 25
    assert float(et.hargreaves_of_day(day, latitude, low + more, low + more + span)) >= eto
    if low + span / 2 > -17.8:
        assert float(et.hargreaves_of_day(day, latitude, low - more / 2, low + span + more / 2)) >= eto
    assert float(et.hargreaves_of_day(day, latitude, low, low)) == 0


@quick
@given(
    st.floats(-20, 45), st.floats(0, 12), st.floats(0, 4), st.floats(0, 20), st.floats(-400, 5000), st.floats(0, 5)
)  # fmt: skip
def test_penman_monteith_grows_with_energy_and_dryness(mean, wind, dryness, net, altitude, more):
    saturation = float(et.saturation_pressure(mean))
    day = et.Weather(
        mean, wind, saturation, max(saturation - dryness, 0), net, 0.0, et.air_pressure(altitude)
    )
    eto = float(et.penman_monteith(day))
    assert eto >= 0
    assert float(et.penman_monteith(replace(day, net_radiation=net + more))) >= eto
    assert float(et.penman_monteith(replace(day, saturation_kpa=saturation + more))) >= eto
    assert float(et.penman_monteith(replace(day, wind_2m=0.0))) <= et.MM_PER_MJ * net + 1e-12


@quick
@given(
    st.floats(-30, 30),
    st.floats(0, 20),
    st.floats(0, 1),
    st.floats(0.1, 45),
    st.floats(0, 1),
    st.floats(0, 5000),
)
def test_more_sun_warms_the_ground_and_never_beyond_what_it_takes_in(low, span, damp, ra, share, altitude):
    vapour = damp * float(et.saturation_pressure(low))
    solar = share * 0.85 * ra
    net = float(et.net_radiation(low, low + span, vapour, solar, ra, altitude))
    assert net <= (1 - et.ALBEDO) * solar + 1e-12
    assert float(et.net_radiation(low, low + span, vapour, 0.0, ra, altitude)) < 0


def test_the_polar_night_has_no_sun_to_measure():
    assert float(et.radiation_from_sunshine(0, 0, 0)) == 0
    found = et.radiation_from_sunshine([0, 5], [0, 10], [0, 20.0])
    assert found.tolist() == [0, 10]


# --- water --------------------------------------------------------------------------------------
@quick
@given(months(0, 600), months(0, 300), st.floats(5, 400), st.sampled_from(["exponential", "linear"]))
def test_a_year_of_months_keeps_its_water(rain, demand, capacity, decline):
    year = monthly_balance(rain, demand, capacity, decline)
    assert ((year.stored >= 0) & (year.stored <= capacity + 1e-9)).all()
    assert (year.deficit >= -1e-9).all()
    assert (year.surplus >= 0).all()
    assert rain.sum() == pytest.approx(year.used.sum() + year.surplus.sum(), abs=0.01)


@quick
@given(months(0, 400), months(0, 250), st.floats(20, 300), st.integers(1, 11))
def test_the_other_half_of_the_earth_has_the_same_year_turned(rain, demand, capacity, by):
    here = monthly_balance(rain, demand, capacity)
    there = monthly_balance(np.roll(rain, by), np.roll(demand, by), capacity)
    assert np.roll(here.stored, by) == pytest.approx(there.stored, abs=0.01)


@quick
@given(months(0, 400), months(0, 250), st.floats(20, 300), st.integers(0, 11), st.floats(0, 100))
def test_more_rain_or_a_deeper_soil_never_makes_it_drier(rain, demand, capacity, month, more):
    before = monthly_balance(rain, demand, capacity).deficit.sum()
    wetter = rain.copy()
    wetter[month] += more
    assert monthly_balance(wetter, demand, capacity).deficit.sum() <= before + 0.01
    assert monthly_balance(rain, demand, capacity + more).deficit.sum() <= before + 0.01


@quick
@given(months(0, 250), st.floats(20, 300))
def test_without_rain_nothing_is_used_and_without_demand_nothing_lacks(demand, capacity):
    desert = monthly_balance(np.zeros(12), demand, capacity)
    assert desert.used.sum() == pytest.approx(0, abs=0.2)
    assert (desert.surplus == 0).all()
    still = monthly_balance(demand, np.zeros(12), capacity)
    assert (still.deficit == 0).all()
    assert still.surplus.sum() == pytest.approx(demand.sum())


@slow
@given(months(0, 25), months(0, 10), st.floats(10, 200), st.floats(0.1, 0.9))
def test_a_year_of_days_keeps_its_water(rain, demand, capacity, easy):
    wet, use = np.repeat(rain, DAYS_OF_MONTHS), np.repeat(demand, DAYS_OF_MONTHS)
    year = daily_balance(wet, use, capacity, easy)
    assert ((year.stored >= 0) & (year.stored <= capacity)).all()
    assert (year.deficit >= -1e-9).all()
    assert wet.sum() == pytest.approx(year.used.sum() + year.surplus.sum(), abs=0.01)


@quick
@given(st.floats(0, 2000), st.floats(0, 500))
def test_effective_rain_is_part_of_the_rain(rain, more):
    """It grows with rain; the two lines of the manual meet at 75 mm."""
    found, wetter = (float(effective_rain_mm(amount)) for amount in (rain, rain + more))
    assert 0 <= found <= rain
    assert wetter >= found - 1e-9


# --- days from months ---------------------------------------------------------------------------
@quick
@given(months(-50, 45), months(-50, 45), st.floats(-3, 3))
def test_days_of_a_sum_are_the_sum_of_the_days(one, other, times):
    assert daily_from_monthly(one + times * other) == pytest.approx(
        daily_from_monthly(one) + times * daily_from_monthly(other), abs=1e-8
    )


@quick
@given(months(0, 60))
def test_rain_by_days_is_never_negative_and_none_is_lost(monthly):
    found = daily_from_monthly(monthly, never_negative=True)
    assert (found >= 0).all()
    assert found.sum() == pytest.approx((monthly * DAYS_OF_MONTHS).sum(), abs=1e-6)
    assert found[np.repeat(monthly == 0, DAYS_OF_MONTHS)] == pytest.approx(0, abs=1e-9)


# --- windows ------------------------------------------------------------------------------------
places = st.tuples(months(-45, 28), months(0, 20), months(0, 500), latitudes, st.floats(10, 250))


def year_of(place):
    low, span, rain, latitude, capacity = place
    return day_by_day(low, low + span, rain, latitude, capacity_mm=capacity)


@slow
@given(places, st.sampled_from(sorted(RULES)), st.booleans())
def test_any_place_on_earth_gets_an_answer(place, stock, wet):
    year = year_of(place)
    for series in (year.tmin_c, year.tmax_c, year.soil_c, year.water_share, year.cold_night_c):
        assert series.shape == (DAYS,)
        assert np.isfinite(series).all()
    assert ((year.water_share >= 0) & (year.water_share <= 1)).all()
    assert (year.tmin_c <= year.tmax_c + 1e-9).all()
    found = planting_year(year, RULES[stock], wet_fine_soil=wet)
    assert ((found.reason >= 0) & (found.reason < len(REASONS))).all()
    covered = np.zeros(DAYS, int)
    for window in found.windows:
        at = np.arange(window.opens, window.closes + 1) % DAYS
        covered[at] += 1
        assert found.open[at].all()
        assert 7 <= window.days <= DAYS
        assert window.opens <= window.best <= window.closes
        assert (window.days == DAYS) or not found.open[[window.opens - 1, (window.closes + 1) % DAYS]].any()
    assert covered.max() <= 1


@slow
@given(places, st.sampled_from(sorted(RULES)), st.integers(1, 364))
def test_a_year_begun_on_another_day_has_the_same_windows(place, stock, by):
    year = year_of(place)
    turned = DayByDay(
        *(
            np.roll(s, by)
            for s in (year.tmin_c, year.tmax_c, year.soil_c, year.water_share, year.cold_night_c)
        )
    )
    here, there = planting_year(year, RULES[stock]), planting_year(turned, RULES[stock])
    assert np.array_equal(np.roll(here.open, by), there.open)
    assert np.array_equal(np.roll(here.reason, by), there.reason)
    key = sorted((w.days, round(w.root_weeks, 6)) for w in here.windows)
    assert key == sorted((w.days, round(w.root_weeks, 6)) for w in there.windows)
    if not here.open.all():
        opens = {(w.opens + by) % DAYS for w in here.windows}
        assert opens == {w.opens % DAYS for w in there.windows}


@slow
@given(places, st.sampled_from(sorted(RULES)), st.floats(0, 6), st.floats(0, 8))
def test_asking_for_more_never_opens_a_day(place, stock, weeks, degrees):
    year, rules = year_of(place), RULES[stock]
    before = planting_year(year, rules).open
    stricter: list[StockRules] = [
        replace(rules, root_weeks=rules.root_weeks + weeks),
        replace(rules, frost_c=rules.frost_c + degrees),
        replace(rules, heat_c=rules.heat_c - degrees),
        replace(rules, moist_share=min(rules.moist_share + weeks / 20, 1)),
        replace(rules, root_c=rules.root_c + degrees),
        replace(rules, drought_share=min(rules.drought_share + weeks / 20, 1)),
        replace(rules, needs_dormancy=True),
    ]
    for asked in stricter:
        assert not (planting_year(year, asked).open & ~before).any()
    shut = np.zeros(DAYS, bool)
    shut[100:200] = True
    assert np.array_equal(planting_year(year, rules, site_closed=shut).open, before & ~shut)


@quick
@given(st.floats(-40, 45), st.floats(0, 30), st.floats(-5, 20), st.floats(0, 10))
def test_degree_days_lie_between_the_mean_and_the_hottest_hour(low, span, base, more):
    found = degree_days(low + span, low, base)
    assert max(low + span / 2 - base, 0) - 1e-9 <= found <= max(low + span - base, 0) + 1e-9
    assert degree_days(low + span, low, base + more) <= found + 1e-9
    assert degree_days(low + span + more, low, base) >= found - 1e-9


# --- spacing, seed, variety ---------------------------------------------------------------------
lengths = st.floats(0.05, 500)


@quick
@given(lengths, lengths)
def test_feet_and_metres_give_one_density(row_ft, in_row_ft):
    metres = spacing.rectangular_per_ha(row_ft * 0.3048, in_row_ft * 0.3048)
    assert spacing.per_ha_of_acre(spacing.per_acre(row_ft, in_row_ft)) == pytest.approx(metres, rel=1e-9)
    assert spacing.square_spacing_m(spacing.rectangular_per_ha(row_ft, row_ft)) == pytest.approx(row_ft)
    assert spacing.triangular_per_ha(row_ft) > spacing.rectangular_per_ha(row_ft, row_ft)


@quick
@given(st.floats(1e-12, 1), st.floats(1e-6, 0.999999))
def test_the_fewest_seeds_that_fill_a_cell(germination, wanted):
    seeds = seed.seeds_per_cell(germination, wanted)
    assert seed.chance_cell_is_filled(germination, seeds) >= wanted - 1e-9
    assert seeds == 1 or seed.chance_cell_is_filled(germination, seeds - 1) < wanted + 1e-9


@quick
@given(st.floats(0.001, 1), st.floats(0.01, 0.999999), st.booleans())
def test_the_fewest_mother_trees_that_catch_an_allele(frequency, chance, selfing):
    trees = seed.mother_trees_needed(frequency, chance, selfing=selfing)
    assert seed.chance_allele_is_caught(frequency, trees, selfing=selfing) >= chance - 1e-9
    assert trees == 1 or seed.chance_allele_is_caught(frequency, trees - 1, selfing=selfing) < chance + 1e-9


@quick
@given(st.floats(0.01, 1), st.floats(0.01, 0.9), st.floats(0, 0.1), st.floats(0.1, 1000))
def test_bulk_seed_weighs_more_than_what_lives_in_it(purity, germination, hard, wanted):
    bulk = seed.bulk_for_pure_live(wanted, purity, germination, hard)
    assert bulk >= wanted
    assert bulk * seed.pure_live_share(purity, germination, hard) == pytest.approx(wanted)


counts = st.lists(st.integers(0, 10_000), min_size=1, max_size=30).filter(any)


@quick
@given(counts, st.integers(1, 50))
def test_variety_lies_between_one_and_the_number_of_species(trees, times):
    species = sum(1 for n in trees if n)
    common, all_of_them = diversity.inverse_simpson(trees), diversity.effective_species(trees)
    assert 1 - 1e-9 <= common <= all_of_them + 1e-9 <= species + 2e-9
    assert diversity.effective_species([n * times for n in trees]) == pytest.approx(all_of_them)
    assert seed.effective_parents(trees) == pytest.approx(common)
    assert 0 <= diversity.evenness(trees) <= 1 + 1e-9
    if len(trees) > 1:
        merged = [trees[0] + trees[1], *trees[2:]]
        assert diversity.effective_species(merged) <= all_of_them + 1e-9


@quick
@given(counts)
def test_two_trees_of_a_sample_are_alike_less_often_than_of_endless_ground(trees):
    assume(sum(trees) > 1)
    assert 0 <= diversity.simpson_of_sample(trees) <= 1 / diversity.inverse_simpson(trees) + 1e-12


@pytest.mark.parametrize(
    "call",
    [
        lambda: seed.bulk_for_pure_live(-1, 0.9, 0.9),
        lambda: seed.sowing_kg_per_ha(100, 0, 0.95, 0.8, 0.6),
        lambda: seed.seed_for_spots_kg(-5, 3, 3000),
        lambda: seed.seed_for_living_kg(1000, 0.2, float("nan")),
        lambda: seed.chance_allele_is_caught(0.05, 0),
        lambda: diversity.simpson_of_sample([5, -3]),
        lambda: diversity.shannon([1, 2], base=1),
        lambda: et.wind_at_2m(3, 0.05),
        lambda: et.vapour_pressure_from_humidity(10, 20, 120, 50),
        lambda: degree_days(10, 20, 5),
        lambda: degree_days(math.nan, 20, 5),
    ],
)
def test_what_cannot_be_is_refused(call):
    with pytest.raises(ValueError, match="must"):
        call()

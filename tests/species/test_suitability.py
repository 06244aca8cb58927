"""The least favourable factor decides, and what is unknown never counts as a fit."""

import doctest

import pytest
from hypothesis import given
from hypothesis import strategies as st

from species.calc import suitability as fit

OAK = {
    "rain_lowest_mm": 400, "rain_optimum_from_mm": 600, "rain_optimum_to_mm": 1200, "rain_highest_mm": 2000,
    "coldest_month_lowest_c": -12, "coldest_month_optimum_from_c": -2,
    "hottest_month_optimum_to_c": 32, "hottest_month_highest_c": 40,
    "dry_months_optimum_to": 4, "dry_months_highest": 6,
    "altitude_lowest_m": 0, "altitude_optimum_from_m": 100, "altitude_optimum_to_m": 1200,
    "altitude_highest_m": 1700,
    "soil_ph_lowest": 4.0, "soil_ph_optimum_from": 5.0, "soil_ph_optimum_to": 7.0, "soil_ph_highest": 8.5,
    "soil_depth_lowest_cm": 30, "soil_depth_optimum_from_cm": 60,
    "salinity_optimum_to_ds_per_m": 1, "salinity_highest_ds_per_m": 4,
    "soil_textures": ["coarse", "medium"], "soil_drainage": ["free", "moderate"], "light": ["full_sun"],
}  # fmt: skip
GOOD = {
    "rain_mm": 900, "coldest_month_c": 0, "hottest_month_c": 28, "dry_months": 3, "altitude_m": 600,
    "soil_ph": 6.0, "soil_depth_cm": 90, "salinity_ds_per_m": 0.5, "soil_texture": "medium",
    "drainage": "free", "light": "full_sun",
}  # fmt: skip


def test_examples_are_true():
    assert doctest.testmod(fit).failed == 0


def test_a_good_site_fits_and_names_no_limit():
    found = fit.suitability(OAK, GOOD)
    assert (found.score, found.verdict, found.limiting, found.unknown) == (1.0, "fits", None, ())
    assert [factor.name for factor in found.factors] == list(fit.FACTORS)


@pytest.mark.parametrize(
    ("changes", "name", "score", "limit"),
    [
        ({"rain_mm": 500}, "rain", 0.5, 600),
        ({"rain_mm": 1600}, "rain", 0.5, 1200),
        ({"rain_mm": 2500}, "rain", 0.0, 2000),
        ({"coldest_month_c": -7}, "cold", 0.5, -2),
        ({"coldest_month_c": -15}, "cold", 0.0, -12),
        ({"hottest_month_c": 36}, "heat", 0.5, 32),
        ({"dry_months": 5}, "drought", 0.5, 4),
        ({"altitude_m": 1450}, "altitude", 0.5, 1200),
        ({"soil_ph": 4.5}, "soil_reaction", 0.5, 5.0),
        ({"soil_depth_cm": 45}, "soil_depth", 0.5, 60),
        ({"salinity_ds_per_m": 2.5}, "salinity", 0.5, 1),
        ({"soil_texture": "fine"}, "soil_texture", 0.0, None),
        ({"drainage": "flooded"}, "drainage", 0.0, None),
        ({"light": "shade"}, "light", 0.0, None),
    ],
)
def test_each_factor_can_limit_and_is_named_with_its_number(changes, name, score, limit):
    found = fit.suitability(OAK, GOOD | changes)
    assert found.score == pytest.approx(score)
    assert found.limiting.name == name
    assert found.limiting.limit == limit
    assert found.verdict == ("unfit" if score == 0 else "limited")


def test_the_worst_factor_decides_not_the_mean():
    found = fit.suitability(OAK, GOOD | {"rain_mm": 500, "dry_months": 5.5})
    assert (found.score, found.limiting.name) == (0.25, "drought")


def test_what_is_unknown_is_said_and_is_no_fit():
    traits = {key: value for key, value in OAK.items() if not key.startswith("rain_")}
    found = fit.suitability(traits, {key: value for key, value in GOOD.items() if key != "soil_ph"})
    assert found.unknown == ("rain", "soil_reaction")
    assert {f.name: f.knowledge for f in found.factors if f.score is None} == {
        "rain": "unknown_of_species",
        "soil_reaction": "unknown_of_site",
    }
    nothing = fit.suitability({}, GOOD)
    assert (nothing.score, nothing.verdict) == (None, "")


def test_half_a_tolerance_is_unknown_not_half_a_fit():
    traits = {key: value for key, value in OAK.items() if key != "rain_highest_mm"}
    assert "rain" in fit.suitability(traits, GOOD | {"rain_mm": 5000}).unknown


@given(
    st.lists(st.floats(-50, 50), min_size=4, max_size=4).map(sorted),
    st.floats(-100, 100),
    st.floats(0, 20),
)
def test_a_score_is_a_share_and_falls_away_from_the_optimum(points, value, step):
    slopes = fit.Slopes(*points)
    assert 0 <= slopes.score(value) <= 1
    if value >= points[2]:
        assert slopes.score(value + step) <= slopes.score(value)
    if value <= points[1]:
        assert slopes.score(value - step) <= slopes.score(value)
    assert slopes.score((points[1] + points[2]) / 2) == 1.0


@pytest.mark.parametrize(
    ("status", "answer"),
    [("invasive", "refused"), ("introduced", "warned"), ("native", "welcome"), ("unknown", "status_unknown")],
)
def test_invasive_is_a_veto_not_a_score(status, answer):
    assert fit.answer_to_status(status) == answer

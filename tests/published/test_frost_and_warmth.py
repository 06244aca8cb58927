"""Frost dates, bad seasons, degree-days and the units of a planting morning against outside values."""

import numpy as np
import pytest
from scipy import integrate, stats

from projects.calc.day_rules import from_us, to_us
from projects.calc.planting_windows import chance_in_seasons, degree_days, frost_date
from tests.published.rows import checks


@checks("D18", "D19")
def test_warmth_of_a_day_above_a_base():
    """D18, arithmetic: 12; D19: the single sine of Baskerville and Emin 1969, from memory.

    The second, 3.626, is what integrating the sine gives; the mean of the extremes would say 2.
    """
    assert degree_days(30, 14, 10) == 12
    assert degree_days(20, 4, 10) == pytest.approx(3.626, abs=5e-4)
    assert degree_days(9, 1, 10) == 0


@pytest.mark.parametrize(
    ("high", "low", "base"),
    [(20, 4, 10), (11, -8, 10), (35, 9.9, 10), (10.001, 2, 10), (3, -9, 0), (30, 30, 5)],
)
def test_warmth_is_the_area_under_the_sine(high, low, base):
    """Adaptive quadrature of scipy, told where the sine crosses the base."""
    mean, half = (high + low) / 2, (high - low) / 2
    crossing = float(np.arcsin(np.clip((base - mean) / half, -1, 1))) if half else 0.0
    area, _error = integrate.quad(
        lambda hour: max(mean + half * np.sin(hour) - base, 0.0), -np.pi, np.pi,
        points=[crossing, np.pi - crossing, -np.pi - crossing], epsabs=1e-12, limit=200,
    )  # fmt: skip
    assert degree_days(high, low, base) == pytest.approx(area / (2 * np.pi), abs=1e-9)


@checks("D20", "D21")
def test_frost_in_ten_seasons_and_the_last_frost():
    """D20, D21, arithmetic: a bad season in 20 comes up in ten with chance 0.401; day 122.8 of the normal law."""
    assert chance_in_seasons(0.05, 10) == pytest.approx(0.401, abs=5e-4)
    assert chance_in_seasons(0.05, 10) == pytest.approx(stats.binom.sf(0, 10, 0.05), rel=1e-12)
    assert frost_date(110, 10) == pytest.approx(122.8, abs=0.05)
    assert frost_date(110, 10, 0.9) == pytest.approx(stats.norm.ppf(0.9, 110, 10), rel=1e-12)
    assert frost_date(110, 10, 0.5) == 110


@checks("K1")
@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    [(33, 0.6), (36, 2.2), (40, 4.4), (26, -3.3), (30, -1.1), (50, 10.0), (80, 26.7), (35, 1.7)],
)
def test_temperatures_of_handling_pages(fahrenheit, celsius):
    """K1, arithmetic by the definition of the degree Fahrenheit; the readings are those of the usual day rules."""
    for measure in ("air_c", "soil_c"):
        assert round(from_us(measure, fahrenheit), 1) == celsius
        assert to_us(measure, from_us(measure, fahrenheit)) == fahrenheit


@checks("K1")
def test_wind_of_handling_pages():
    """K1, arithmetic by definition: a mile is 1609.344 m, so 10 mph are 4.47 m/s."""
    assert from_us("wind_m_per_s", 10) == 4.47
    assert to_us("wind_m_per_s", 4.47) == 10.0

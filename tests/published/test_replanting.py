"""Replacement planting against outside values: costs, rates of loss, and scipy's beta-binomial, live."""

import math

import numpy as np
import pytest
from scipy import stats

from monitoring.estimators.carrying import LossRate, Recount, rate_after_first_year, share_carried
from monitoring.estimators.planting_survival import ReplacementSurvival
from monitoring.estimators.planting_tails import Survivors
from monitoring.estimators.replacement import cost_per_living_tree, smallest_planting
from tests.published.checks import cases, ids
from tests.published.rows import checks


@checks("X4")
def test_cost_of_a_living_tree():
    """X4, arithmetic: 5.00 at 60 % is 8.33, 7.00 at 90 % is 7.78: the dearer plant is the cheaper tree."""
    assert cost_per_living_tree(5.00, 0.60) == pytest.approx(8.33, abs=0.005)
    assert cost_per_living_tree(7.00, 0.90) == pytest.approx(7.78, abs=0.005)


def test_yearly_survival_after_the_first_year_in_tropical_asia():
    """Banin et al. 2023: 18 % dead in the first year, 44 % by the fifth, so 0.909 a year from then on."""
    found = rate_after_first_year([Recount(1_000_000, 0.82, 0.56, 4.0)])
    assert found.yearly_survival == pytest.approx(0.909, abs=5e-4)
    kept = share_carried(0.82, 365.25, 5 * 365.25, found)
    assert 0.82 * kept == pytest.approx(0.56, abs=1e-4)


def test_a_yearly_loss_as_a_monthly_one():
    """Computed by hand: 18 % a year is 1.64 % a month at the same rate."""
    month = share_carried(0.82, 365.25, 365.25 * 13 / 12)
    assert 1 - month == pytest.approx(0.0164, abs=5e-5)


def test_survival_of_23_months_as_a_yearly_one():
    """Sheil, Burslem & Alder 1995, formula; 61 of 206 seedlings (Lohr 2021, ex. 4.5) over 23 months: 0.530."""
    months = 365.25 / 12
    assert share_carried(61 / 206, 23 * months, 35 * months) == pytest.approx(0.530, abs=5e-4)


def test_the_first_year_is_kept_apart():
    """Computed by hand from 100, 80 after 6 months, 72 after 14: hazards 0.0372 and 0.0132 a month."""
    months = 365.25 / 12
    first = -math.log(0.80) / 6
    later = rate_after_first_year([Recount(1e9, 0.80, 0.72, 8 / 12)])
    assert first == pytest.approx(0.0372, abs=5e-5)
    assert -math.log(later.yearly_survival) / 12 == pytest.approx(0.0132, abs=5e-5)
    kept = share_carried(0.80, 6 * months, 18 * months, LossRate(later.yearly_survival, 1))
    assert kept == pytest.approx(math.exp(-6 * first - 6 * 0.01317), rel=1e-3)


@pytest.mark.parametrize(("alpha", "beta"), [(24, 6), (0.8, 0.3), (45, 9), (3, 40), (900, 100)])
@pytest.mark.parametrize("planted", [1, 40, 700])
def test_tails_equal_scipy_betabinom(alpha, beta, planted):
    found = Survivors(ReplacementSurvival(alpha, beta)).at_least(planted)
    wanted = stats.betabinom.sf(np.arange(planted + 1) - 1, planted, alpha, beta)
    np.testing.assert_allclose(found, wanted, atol=1e-10)


def test_a_chance_in_a_billion_keeps_its_digits():
    found = Survivors(ReplacementSurvival(30, 60)).at_least(200)[190]
    wanted = float(stats.betabinom.pmf(np.arange(190, 201), 200, 30, 60).sum())
    assert 0 < wanted < 1e-9
    assert found == pytest.approx(wanted, rel=1e-9, abs=0)


@pytest.mark.parametrize("name", ids("9-"))
def test_a_mixture_of_equals_is_the_one_it_is_made_of(name):
    given, expected = cases()[name]["inputs"], cases()[name]["expected"]
    parts = ReplacementSurvival((given["alpha"],) * 3, (given["beta"],) * 3, (0.2, 0.3, 0.5))
    number, chance = smallest_planting(given["target"], given["current"], parts, given["confidence"])
    assert number == expected["N"]
    assert chance == pytest.approx(expected["prob_at_N"], abs=cases()[name]["tolerance"])


@checks("L4", "L5")
def test_orders_with_95_percent_assurance_fail_with_one_tree_less():
    """L4, L5, computed with scipy's tails: 1,406 when survival is known to be .80, 1,642 when it is Beta(24, 6)."""
    number, _chance = smallest_planting(1100, 0, ReplacementSurvival(0.8, math.inf), 0.95)
    assert number == 1406
    assert stats.binom.sf(1099, number, 0.8) >= 0.95 > stats.binom.sf(1099, number - 1, 0.8)
    number, _chance = smallest_planting(1100, 0, ReplacementSurvival(24, 6), 0.95)
    assert number == 1642
    assert stats.betabinom.sf(1099, number, 24, 6) >= 0.95 > stats.betabinom.sf(1099, number - 1, 24, 6)

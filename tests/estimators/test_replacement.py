"""What to replant: an exact number from the trees alive now and the survival foreseen of new ones."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import stats

from monitoring.estimators.carrying import LossRate
from monitoring.estimators.living import Carry, between, expected, living_at_check, with_replanted
from monitoring.estimators.planting_survival import ReplacementSurvival, survival_of_groups
from monitoring.estimators.planting_tails import OUT_OF_REACH, Survivors, chance_of, together
from monitoring.estimators.replacement import Standing, replacement_need, smallest_planting
from monitoring.estimators.rows import CENSUS, EstimateRow

BETA = ReplacementSurvival(24, 6)
MIXED = ReplacementSurvival((8.0, 40.0), (2.0, 20.0), (0.3, 0.7))


def survival_row(value=0.7, lower=0.6, upper=0.78, **more):
    return EstimateRow("block", "A", "survival", "m", 0.95, value=value, lower=lower, upper=upper, **more)


def standing(planted=2000, carry=None, row=None, **more):
    return Standing(row or survival_row(), planted, carry or Carry(), **more)


# --- the number ----------------------------------------------------------------------------
def test_the_assured_number_exceeds_the_expected_one():
    need = replacement_need(standing(), 1600, BETA, assurance=0.9)
    assert need.n_expected == 250
    assert need.n_assured > need.n_assured_if_known > need.n_expected
    assert need.probability >= 0.9
    assert (need.living, need.living_lower, need.living_upper) == (1400, 1200, 1560)


def test_with_the_living_known_the_need_is_the_exact_planting():
    row = EstimateRow("block", "A", "survival", CENSUS, 0.95, value=0.7, lower=0.7, upper=0.7)
    need = replacement_need(standing(row=row), 1600, ReplacementSurvival(45, 9))
    exact, _chance = smallest_planting(1600, 1400, ReplacementSurvival(45, 9))
    assert need.n_assured == need.n_assured_if_known == exact


def test_nothing_is_needed_when_the_target_is_surely_reached():
    need = replacement_need(standing(row=survival_row(0.95, 0.92, 0.97)), 1600, BETA)
    assert (need.status, need.n_assured, need.n_expected) == ("none_needed", 0, 0)
    assert need.chance_without >= 0.9


def test_without_an_estimate_there_is_no_need_but_a_reason():
    refused = EstimateRow("block", "A", "survival", "m", 0.95, status="not_estimable", reason="one_plot")
    need = replacement_need(standing(row=refused), 1600, BETA)
    assert (need.status, need.reason, need.n_assured) == ("not_estimable", "one_plot", None)


def test_a_number_that_would_be_absurd_is_refused():
    need = replacement_need(standing(), 1900, ReplacementSurvival(0.02, 0.2), assurance=0.9)
    assert (need.status, need.reason) == ("not_estimable", OUT_OF_REACH)


@pytest.mark.parametrize("survival", [BETA, MIXED, ReplacementSurvival(0.8, math.inf)])
def test_the_chance_is_the_sum_over_both_unknowns_as_scipy_has_it(survival):
    living = living_at_check(np.array([0.5, 0.6, 0.8]), 40, Carry(400, 800, LossRate(0.9, 2), 0.1))
    assert living.sum() == pytest.approx(1, abs=1e-12)
    alpha, beta, weight = survival.parts()

    def upper_tail(needed, planted):
        if needed <= 0:
            return 1.0
        if math.isinf(beta[0]):
            return stats.binom.sf(needed - 1, planted, alpha[0])
        tails = [stats.betabinom.sf(needed - 1, planted, a, b) for a, b in zip(alpha, beta, strict=True)]
        return float(np.dot(tails, weight))

    chance = chance_of(45, living, Survivors(survival))
    for planted in (0, 7, 30, 90):
        wanted = sum(p * upper_tail(45 - d, planted) for d, p in enumerate(living))
        assert chance(planted) == pytest.approx(wanted, abs=1e-9)


def test_of_the_living_those_at_the_check_are_beta_binomial():
    """50 of 100 live; two thirds of a year and one more year at 0.81 to come, trees alike by 0.1."""
    found = living_at_check(np.array([0.5]), 100, Carry(400, 765.25, LossRate(0.81, 3), 0.1))
    assert_allclose(found, stats.betabinom.pmf(np.arange(51), 50, 0.81 * 9, 0.19 * 9), atol=1e-12)
    assert expected(found) == pytest.approx(40.5)
    low, high = between(found, 0.9)
    assert stats.betabinom.cdf(low - 1, 50, 0.81 * 9, 0.19 * 9) <= 0.05
    assert stats.betabinom.cdf(high, 50, 0.81 * 9, 0.19 * 9) >= 0.95


def test_trees_planted_since_add_what_lives_of_them_and_their_doubt():
    sure, beta = np.array([0.0] * 100 + [1.0]), ReplacementSurvival(8, 2)
    found = with_replanted(sure, 200, beta)
    assert_allclose(found[100:], stats.betabinom.pmf(np.arange(201), 200, 8, 2), atol=1e-12)
    none = replacement_need(standing(), 1600, BETA)
    some = replacement_need(standing(replanted=100, replanted_survival=beta), 1600, BETA)
    assert some.n_assured < none.n_assured
    fixed = replacement_need(standing(), 1600 - 80, BETA)
    assert some.n_expected == fixed.n_expected
    assert some.n_assured > fixed.n_assured  # what is expected of them is not what they will do


def test_a_long_sum_of_counts_equals_the_term_by_term_one():
    one, other = np.full(300, 1 / 300), stats.binom.pmf(np.arange(200), 199, 0.3)
    assert_allclose(together(one, other), np.convolve(one, other), atol=1e-15)


# --- its properties ------------------------------------------------------------------------
SURVIVALS = st.builds(
    ReplacementSurvival, st.floats(0.5, 60), st.floats(0.5, 30)
)  # from very uncertain to nearly known
LIVING = st.integers(0, 300)


@given(LIVING, LIVING, SURVIVALS)
@settings(max_examples=40, deadline=None)
def test_one_tree_fewer_planted_does_not_do(target, living, survival):
    try:
        number, chance = smallest_planting(target, living, survival, 0.9)
    except OverflowError:
        return
    assert chance >= 0.9
    if number:
        fewer = stats.betabinom.sf(target - living - 1, number - 1, survival.alpha, survival.beta)
        assert fewer < 0.9
    else:
        assert living >= target


@given(LIVING, LIVING, st.integers(1, 50), SURVIVALS)
@settings(max_examples=40, deadline=None)
def test_more_living_never_ask_for_more_trees(target, living, more, survival):
    def number(alive):
        try:
            return smallest_planting(target, alive, survival, 0.8)[0]
        except OverflowError:
            return math.inf

    assert number(living + more) <= number(living)


@given(LIVING, LIVING, st.floats(0.5, 0.95), st.floats(0.5, 0.95), SURVIVALS)
@settings(max_examples=40, deadline=None)
def test_more_assurance_never_asks_for_fewer_trees(target, living, one, other, survival):
    def number(level):
        try:
            return smallest_planting(target, living, survival, level)[0]
        except OverflowError:
            return math.inf

    assert number(min(one, other)) <= number(max(one, other))


def test_deaths_to_come_raise_the_need_and_so_does_their_doubt():
    needs = [
        replacement_need(standing(carry=Carry(500, 900, LossRate(0.9, 3), correlation)), 1600, BETA)
        for correlation in (0.0, 0.2)
    ]
    now = replacement_need(standing(), 1600, BETA)
    assert now.n_assured < needs[0].n_assured < needs[1].n_assured
    assert needs[0].living_at_check == pytest.approx(1400 * 0.9 ** (400 / 365.25), rel=1e-3)
    assert needs[1].living_at_check == pytest.approx(needs[0].living_at_check, rel=1e-9)
    assert needs[1].check_lower < needs[0].check_lower < needs[0].check_upper < needs[1].check_upper


# --- survival foreseen ---------------------------------------------------------------------
def test_past_plantings_that_differ_give_a_wide_answer():
    alike = survival_of_groups([80, 82, 78, 81], [100] * 4)
    apart = survival_of_groups([95, 60, 85, 40], [100] * 4)
    assert alike.quantile(0.1) > apart.quantile(0.1) + 0.1
    assert alike.correlation < 0.05 < apart.correlation


def test_few_plantings_give_a_wider_answer_than_many_alike():
    few, many = (survival_of_groups([80, 60] * n, [100] * 2 * n) for n in (1, 12))
    assert few.mean == pytest.approx(many.mean, abs=0.06)
    assert few.quantile(0.1) < many.quantile(0.1) - 0.1


def test_a_new_planting_differs_though_a_hundred_past_ones_are_known():
    """With so many plantings the answer is the beta they were drawn from."""
    rng = np.random.default_rng(5)
    past = rng.binomial(400, rng.beta(14, 6, 100))
    found = survival_of_groups(past, np.full(100, 400))
    for probability in (0.1, 0.5, 0.9):
        assert found.quantile(probability) == pytest.approx(stats.beta.ppf(probability, 14, 6), abs=0.04)


def test_the_parts_stand_for_the_whole_posterior():
    """Against a posterior summed over a fine grid: mean 0.667..., and its tenth percentile."""
    alive, trees = np.array([60.0, 70, 50, 40]), np.full(4, 80.0)
    found = survival_of_groups(alive, trees)
    mu = np.linspace(0.001, 0.999, 700)[:, None]
    rho = ((np.arange(400) + 0.5) / 400)[None, :]
    a, b = mu * (1 / rho - 1), (1 - mu) * (1 / rho - 1)
    likelihood = sum(stats.betabinom.logpmf(x, n, a, b) for x, n in zip(alive, trees, strict=True))
    mass = likelihood + stats.beta.logpdf(mu, 0.7, 0.7) + stats.beta.logpdf(rho, 1, 4)
    mass = np.exp(mass - mass.max())
    mass /= mass.sum()
    assert found.mean == pytest.approx(float((mass * mu).sum()), abs=0.002)
    tenth = found.quantile(0.1)
    assert float((mass * stats.beta.cdf(tenth, a, b)).sum()) == pytest.approx(0.1, abs=0.003)


def test_with_nothing_seen_the_prior_answers_and_with_one_planting_both_do():
    prior = ReplacementSurvival(7, 3)
    assert survival_of_groups([], [], prior) == prior
    one = survival_of_groups([20], [100], prior)
    assert 0.2 < one.mean < prior.mean
    with pytest.raises(ValueError, match="nothing was seen"):
        survival_of_groups([], [])
    with pytest.raises(ValueError, match="between 0 and"):
        survival_of_groups([5], [4])


WORLDS = [(0.6, 0.05), (0.8, 0.05), (0.8, 0.12), (0.9, 0.1)]  # mean survival and how plantings differ


@pytest.mark.parametrize(("mean", "spread"), WORLDS)
def test_the_assurance_promised_is_the_assurance_reached(mean, spread):
    """Eight past plantings of 80 trees; then 300 trees are to be made up. Exact given each set of plantings."""
    rng, size = np.random.default_rng(11), 1 / spread - 1
    reached = []
    for _ in range(150):
        past = rng.binomial(80, rng.beta(mean * size, (1 - mean) * size, 8))
        number, _chance = smallest_planting(300, 0, survival_of_groups(past, np.full(8, 80)), 0.9)
        reached.append(stats.betabinom.sf(299, number, mean * size, (1 - mean) * size))
    assert 0.88 <= np.mean(reached) <= 0.97

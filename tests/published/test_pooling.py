"""Pooling of small groups with their peers: R VGAM, scipy, and figures by hand."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import optimize, special, stats

from monitoring.estimators.betabinomial import (
    BetaBinomialFit,
    fit,
    log_likelihood,
    moments,
    tail_probabilities,
)
from monitoring.estimators.pooling import pool
from monitoring.estimators.ranking import BLOCK_SCALE, SPREAD_SCALE, ranks
from tests.published.checks import cases, ids
from tests.published.rows import checks


@pytest.mark.parametrize("name", ids("7-bb-ml"))
def test_beta_binomial_fit_equals_vgam(name):
    case = cases()[name]
    expected, found = case["expected"], fit(case["inputs"]["alive"], case["inputs"]["total"])
    assert (found.mu, found.rho) == pytest.approx((expected["mu"], expected["rho"]), abs=case["tolerance"])
    assert (found.alpha, found.beta) == pytest.approx(
        (expected["alpha"], expected["beta"]), abs=case["tolerance"]
    )
    assert found.log_likelihood == pytest.approx(expected["loglik"], abs=1e-6)
    shrunk = found.shrunk(case["inputs"]["alive"], case["inputs"]["total"])
    assert_allclose(shrunk, expected["eb_plot_means"], atol=case["tolerance"])


def profile(alive, total, mu):
    """Greatest log likelihood at a mean, by our likelihood and scipy's search over the correlation."""

    def loss(log_size):
        size = np.exp(log_size)
        return -log_likelihood(alive, total, mu * size, (1 - mu) * size)

    return -optimize.minimize_scalar(loss, bounds=(-6, 14), method="bounded", options={"xatol": 1e-10}).fun


@pytest.mark.parametrize("name", ids("7-bb-ml"))
def test_profile_limits_of_the_mean_equal_vgam(name):
    case = cases()[name]
    alive, total = (np.array(case["inputs"][key]) for key in ("alive", "total"))
    best = fit(alive, total)
    n = alive.size
    cuts = {
        "chi2": stats.chi2.ppf(0.95, 1), "t_n-1_sq": stats.t.ppf(0.975, n - 1) ** 2,
        "t_2(n-1)_sq": stats.t.ppf(0.975, 2 * (n - 1)) ** 2,
    }  # fmt: skip
    for key, cut in cuts.items():

        def drop(mu, cut=cut):
            return 2 * (best.log_likelihood - profile(alive, total, mu)) - cut

        limits = [optimize.brentq(drop, *ends, xtol=1e-9) for ends in ((0.2, best.mu), (best.mu, 0.995))]
        assert_allclose(limits, case["expected"]["profile_ci"][key], atol=case["tolerance"], err_msg=key)


def test_species_are_shrunk_as_by_marginal_likelihood():
    case = cases()["7-eb-species"]
    alive, total = case["inputs"]["alive"], case["inputs"]["total"]
    found, expected = fit(alive, total), case["expected"]["ml"]
    assert_allclose(found.shrunk(alive, total), expected["shrunk"], atol=case["tolerance"])
    assert_allclose(found.quantile(alive, total, 0.025), expected["ci95_lo"], atol=case["tolerance"])
    assert_allclose(found.quantile(alive, total, 0.975), expected["ci95_hi"], atol=case["tolerance"])
    kleinman = case["expected"]["mom_kleinman"]
    assert moments(alive, total) == pytest.approx((kleinman["mu"], kleinman["rho"]), abs=1e-9)


def test_integrating_over_the_spread_draws_less_than_one_best_spread_would():
    """Eight species tell little of how species differ, so each share lies between its own and the shrunk one."""
    case = cases()["7-eb-species"]
    alive, total = (np.array(case["inputs"][key]) for key in ("alive", "total"))
    expected, found = case["expected"]["ml"], pool(alive, total)
    raw, shrunk = alive / total, np.array(expected["shrunk"])
    drawn = (found.mean - raw) / (shrunk - raw)
    assert ((drawn > 0) & (drawn < 1)).all()
    assert (found.quantile(0.025) < shrunk).all()
    assert (found.quantile(0.975) > shrunk).all()
    width = found.quantile(0.975) - found.quantile(0.025)
    assert (width > np.array(expected["ci95_hi"]) - np.array(expected["ci95_lo"])).all()


@checks("L6")
def test_four_of_four_does_not_beat_170_of_200():
    """L6, computed by hand with a Beta(16, 4) prior: .833 and .845."""
    prior = BetaBinomialFit(16, 4, 0.0)
    assert_allclose(prior.shrunk([4, 170], [4, 200]), [0.833, 0.845], atol=5e-4)


@checks("L3")
def test_a_plot_of_twenty_trees_often_flatters():
    """L3, computed from the binomial: at a true 80 % a plot of 20 trees shows 90 % or more with chance .206."""
    assert round(float(tail_probabilities(20, 0.8, np.inf)[18]), 3) == 0.206
    assert stats.binom.sf(17, 20, 0.8) == pytest.approx(tail_probabilities(20, 0.8, np.inf)[18], abs=1e-12)


@given(
    st.lists(
        st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))),
        min_size=1,
        max_size=8,
    ),
    st.floats(0.05, 500),
    st.floats(0.05, 500),
)
def test_the_beta_binomial_likelihood_equals_scipy(groups, alpha, beta):
    alive, total = (np.array(column, float) for column in zip(*groups, strict=True))
    expected = stats.betabinom.logpmf(alive, total, alpha, beta).sum()
    assert log_likelihood(alive, total, alpha, beta) == pytest.approx(expected, rel=1e-8, abs=1e-7)


@settings(max_examples=40)
@given(st.integers(1, 300), st.floats(0.3, 200), st.floats(0.3, 200))
def test_the_chance_of_enough_trees_equals_scipy(planted, alpha, beta):
    k = np.arange(planted + 1)
    expected = stats.betabinom.sf(k - 1, planted, alpha, beta)
    assert_allclose(tail_probabilities(planted, alpha, beta), expected, atol=1e-9)


def test_pooled_shares_equal_a_fine_integration():
    """Mean and quantiles of two things by Riemann sums over both priors, on a grid of another kind."""
    alive, total = np.array([4.0, 50.0]), np.array([4.0, 80.0])
    mu, rho = (a.ravel() for a in np.meshgrid((np.arange(400) + 0.5) / 400, (np.arange(400) + 0.5) / 400))
    a, b = mu * (1 / rho - 1), (1 - mu) * (1 / rho - 1)
    log_mass = stats.beta.logpdf(mu, 0.7, 0.7) + stats.beta.logpdf(rho, 1, 4)
    for x, n in zip(alive, total, strict=True):
        log_mass += special.betaln(x + a, n - x + b) - special.betaln(a, b)
    mass = np.exp(log_mass - log_mass.max())
    mass /= mass.sum()
    found = pool(alive, total)
    for place, (x, n) in enumerate(zip(alive, total, strict=True)):
        assert found.mean[place] == pytest.approx((mass * (x + a) / (n + a + b)).sum(), abs=2e-3)
        for probability in (0.025, 0.5, 0.975):
            at = found.quantile(probability)[place]
            below = (mass * special.betainc(x + a, n - x + b, at)).sum()
            assert below == pytest.approx(probability, abs=4e-3)


def test_much_data_leaves_each_thing_its_own_share_and_alike_things_their_common_one():
    apart = pool([9000, 5000, 7000], [10_000] * 3)
    assert_allclose(apart.mean, [0.9, 0.5, 0.7], atol=1e-3)
    alike = pool([1600] * 10, [2000] * 10)
    assert_allclose(alike.mean, 0.8, atol=5e-4)
    single = stats.beta.ppf([0.025, 0.975], 1600.5, 400.5)
    assert alike.quantile(0.975)[0] - alike.quantile(0.025)[0] < single[1] - single[0]


@settings(max_examples=30, deadline=None)
@given(
    st.lists(
        st.integers(1, 200).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))),
        min_size=2,
        max_size=8,
    )
)
def test_pooled_limits_are_ordered_and_mirror_the_dead(groups):
    alive, total = (np.array(column, float) for column in zip(*groups, strict=True))
    found, mirrored = pool(alive, total), pool(total - alive, total)
    assert (found.quantile(0.025) < found.quantile(0.975)).all()
    assert_allclose(found.mean, 1 - mirrored.mean, atol=1e-6)
    assert_allclose(found.quantile(0.025), 1 - mirrored.quantile(0.975), atol=1e-6)


def test_chances_of_being_best_equal_weighting_of_draws_from_the_prior():
    """Three things in two blocks, the first two side by side in one, the last two in the other."""
    alive, trees = np.array([[9.0, 0], [7, 3], [0, 6]]), np.array([[10.0, 0], [10, 8], [0, 9]])
    rng, n = np.random.default_rng(3), 400_000
    centre = special.logit(alive.sum() / trees.sum())
    effect = rng.standard_normal((n, 3)) * np.abs(rng.normal(0, SPREAD_SCALE, (n, 1)))
    block = rng.normal(centre, BLOCK_SCALE, (n, 2))
    line = effect[:, :, None] + block[:, None, :]
    log_weight = (alive * special.log_expit(line) + (trees - alive) * special.log_expit(-line)).sum(
        axis=(1, 2)
    )
    weight = np.exp(log_weight - log_weight.max())
    best = [(weight * (effect.argmax(axis=1) == k)).sum() / weight.sum() for k in range(3)]
    found = ranks(alive, trees)
    assert_allclose(found.best, best, atol=0.02)
    assert found.best.sum() == pytest.approx(1)


def test_an_easy_block_does_not_make_a_lot_the_best():
    """The first is level with the second in an easy block; in a hard one the third beats the second by far."""
    found = ranks(np.array([[95.0, 0], [95, 30], [0, 60]]), np.full((3, 2), 100.0) * [[1, 0], [1, 1], [0, 1]])
    assert found.best[2] > 0.9
    assert (found.low[2], found.high[2]) == (1, 2)

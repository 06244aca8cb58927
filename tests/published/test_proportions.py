"""Limits for shares against printed tables, statsmodels and scipy."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import special, stats
from statsmodels.stats.proportion import proportion_confint

from monitoring.estimators import intervals
from tests.published.checks import cases, ids, one_block

LEVELS = (0.8, 0.9, 0.95, 0.99)
SEEDLINGS_1992 = [1, 0, 8, 2, 76, 60, 25, 2, 1, 31]  # Lohr, Sampling (2021), example 4.5
SEEDLINGS_1994 = [0, 0, 1, 2, 10, 15, 3, 2, 1, 27]


def every_count(most=40):
    """All (x, n) with 1 <= n <= most."""
    return np.array([(x, n) for n in range(1, most + 1) for x in range(n + 1)]).T


@pytest.mark.parametrize("name", ids("4-binom"))
def test_limits_for_independent_trees_equal_statsmodels(name):
    case = cases()[name]
    x, n, level = (case["inputs"][key] for key in ("x", "n", "level"))
    for method, limits in (
        ("wilson", intervals.wilson(x, n, level)),
        ("clopper_pearson", intervals.clopper_pearson(x, n, level)),
        ("jeffreys_BCD_edge", intervals.jeffreys(x, n, level)),
    ):
        assert_allclose(np.ravel(limits), case["expected"][method], atol=case["tolerance"], err_msg=method)


@pytest.mark.parametrize("name", ids("4-KG"))
def test_korn_graubard_limits_equal_r_and_the_capped_variant(name):
    case = cases()[name]
    given_ = [case["inputs"][key] for key in ("p", "se", "n_trees", "df", "level")]
    for cap, key in ((True, "beta_capped"), (False, "beta_uncapped")):
        limits = intervals.korn_graubard(*given_, cap=cap)
        assert_allclose(np.ravel(limits), case["expected"][key], atol=case["tolerance"])


@pytest.mark.parametrize("name", ids("4-KG"))
def test_wilson_and_jeffreys_take_an_effective_number_of_trees(name):
    """The effective number of Korn & Graubard, kept at or below the trees counted."""
    case = cases()[name]
    p, level, n = case["inputs"]["p"], case["inputs"]["level"], case["expected"]["neff_deff_ge1"]
    for limits, key in ((intervals.wilson, "wilson"), (intervals.jeffreys, "jeffreys")):
        found = np.ravel(limits(p * n, n, level))
        assert_allclose(found, case["expected"][f"{key}_neff_deff_ge1"], atol=case["tolerance"])


@pytest.mark.parametrize(
    ("x", "n", "wilson", "exact"),
    [
        (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
        (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
        (0, 20, (0, 0.1611), (0, 0.1684)),
        (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
    ],
)
def test_limits_equal_the_table_of_newcombe(x, n, wilson, exact):
    """Newcombe (1998), Statistics in Medicine 17:857, table I, methods 3 and 5 (from memory)."""
    assert np.round(np.ravel(intervals.wilson(x, n)), 4).tolist() == list(wilson)
    assert np.round(np.ravel(intervals.clopper_pearson(x, n)), 4).tolist() == list(exact)


def test_none_dead_of_thirty_still_leaves_an_upper_limit():
    """Hanley & Lippman-Hand (1983): 0 of 30, one-sided 95 % limit .095, by the rule of three .100 (from memory)."""
    upper = float(intervals.clopper_pearson(0, 30, 2 * 0.95 - 1)[1])
    assert round(upper, 3) == 0.095
    assert upper == pytest.approx(3 / 30, rel=0.06)


def test_jeffreys_limits_of_17_in_20():
    """Computed with scipy: .651 to .956."""
    assert np.round(np.ravel(intervals.jeffreys(17, 20)), 3).tolist() == [0.651, 0.956]


def test_effective_trees_of_clustered_seedlings():
    """Lohr's seedlings: 206 trees with design effect 13.1 are worth 15.7; Wilson on those .130 to .543 (computed)."""
    found = one_block(SEEDLINGS_1994, SEEDLINGS_1992)
    n = found.value[0] * (1 - found.value[0]) / found.se[0] ** 2
    assert round(float(found.deff[0]), 1) == 13.1
    assert round(float(n), 1) == 15.7
    assert np.round(np.ravel(intervals.wilson(found.value[0] * n, n)), 3).tolist() == [0.13, 0.543]


def test_a_rare_species_is_easily_missed():
    """Computed: a 2 % species is among 50 trees with chance .636; the upper limit of none seen agrees."""
    assert round(1 - 0.98**50, 3) == 0.636
    level = 1 - 2 * 0.98**50  # a one-sided limit at .636
    assert float(intervals.clopper_pearson(0, 50, level)[1]) == pytest.approx(0.02, abs=1e-12)


@pytest.mark.parametrize("level", LEVELS)
def test_every_count_up_to_forty_has_the_limits_of_statsmodels(level):
    x, n = every_count()
    inside = (x > 0) & (x < n)
    assert_allclose(intervals.wilson(x, n, level), proportion_confint(x, n, 1 - level, "wilson"), atol=1e-12)
    assert_allclose(
        intervals.clopper_pearson(x, n, level), proportion_confint(x, n, 1 - level, "beta"), atol=1e-9
    )
    ours, theirs = intervals.jeffreys(x, n, level), proportion_confint(x, n, 1 - level, "jeffreys")
    assert_allclose(np.array(ours)[:, inside], np.array(theirs)[:, inside], atol=1e-9)
    assert (ours[0][x == 0] == 0).all()
    assert (ours[1][x == n] == 1).all()


def test_large_counts_have_the_limits_of_statsmodels():
    x, n = np.array([3, 4000, 99_999, 250_000]), np.array([10_000, 8000, 100_000, 1_000_000])
    for ours, method in ((intervals.wilson, "wilson"), (intervals.clopper_pearson, "beta")):
        assert_allclose(ours(x, n), proportion_confint(x, n, 0.05, method), rtol=1e-8)


def test_logit_t_limits_equal_scipy():
    p, se, df = (
        a.ravel() for a in np.meshgrid([0.03, 0.4, 0.85, 0.99], [0.001, 0.02, 0.1], [1, 3.7, 11, 200])
    )
    for level in LEVELS:
        half = stats.t.ppf((1 + level) / 2, df) * se / (p * (1 - p))
        expected = special.expit(special.logit(p) - half), special.expit(special.logit(p) + half)
        assert_allclose(intervals.logit_t(p, se, df, level), expected, atol=1e-10)


def test_a_level_for_each_share_is_the_same_as_one_after_another():
    p, se, df, n = (
        np.array([0.0, 0.4, 0.9, 1.0]),
        np.array([0, 0.05, 0, 0]),
        np.full(4, 7.0),
        np.full(4, 30.0),
    )
    levels = np.array([0.8, 0.9, 0.95, 0.5])
    together = np.array(intervals.logit_t_with_edge(p, se, df, n, levels))
    for place, level in enumerate(levels):
        one = intervals.logit_t_with_edge(p[place], se[place], df[place], n[place], level)
        assert_allclose(together[:, place], np.ravel(one), atol=1e-15)


counts = st.integers(1, 5000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
methods = st.sampled_from([intervals.wilson, intervals.clopper_pearson, intervals.jeffreys])
levels = st.floats(0.5, 0.999)


@given(counts, methods, levels)
def test_limits_hold_the_share_and_stay_between_none_and_all(count, method, level):
    x, n = count
    lower, upper = (float(limit) for limit in method(x, n, level))
    assert 0 <= lower <= x / n + 1e-12
    assert x / n - 1e-12 <= upper <= 1
    assert lower < upper


@given(counts, methods, levels)
def test_limits_of_the_dead_mirror_those_of_the_living(count, method, level):
    x, n = count
    living, dead = method(x, n, level), method(n - x, n, level)
    assert_allclose(np.ravel(living), 1 - np.ravel(dead)[::-1], atol=1e-9)


@given(counts, methods, levels)
def test_one_more_living_tree_raises_both_limits_and_more_confidence_widens_them(count, method, level):
    x, n = count
    lower, upper = method(x, n, level)
    if x < n:
        more = method(x + 1, n, level)
        assert more[0] > lower or (more[0] == lower == 0)
        assert more[1] > upper or (more[1] == upper == 1)
    wider = method(x, n, (1 + level) / 2)
    assert wider[0] <= lower
    assert wider[1] >= upper


edges_and_between = st.one_of(st.sampled_from([0.0, 1.0]), st.floats(1e-6, 1 - 1e-6))


@given(edges_and_between, st.floats(0, 0.4), st.floats(1, 60), st.floats(1, 500), levels)
def test_limits_with_the_edge_rule_hold_the_share_whatever_the_plots_show(p, se, df, n, level):
    lower, upper = (float(limit) for limit in intervals.logit_t_with_edge(p, se, df, n, level))
    assert 0 <= lower <= p + 1e-9
    assert p - 1e-9 <= upper <= 1
    mirrored = intervals.logit_t_with_edge(1 - p, se, df, n, level)
    assert_allclose([lower, upper], [1 - float(mirrored[1]), 1 - float(mirrored[0])], atol=1e-6)

"""Planting quality against printed tables, scipy, statsmodels and the estimators of survival, of one theory with it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import special, stats
from statsmodels.stats.proportion import proportion_confint

from monitoring.estimators import intervals
from projects.calc.planting_quality import (
    NO_SPREAD,
    NOTHING,
    ONE_SPOT,
    SPREAD,
    Spot,
    effective_trees,
    exact_limits,
    faults_in_all,
    quality,
)
from tests.published.checks import one_block

SEEDLINGS_1992 = [1, 0, 8, 2, 76, 60, 25, 2, 1, 31]  # Lohr, Sampling (2021), example 4.5
SEEDLINGS_1994 = [0, 0, 1, 2, 10, 15, 3, 2, 1, 27]


def spots(inspected, acceptable):
    return [Spot(int(n), int(x)) for n, x in zip(inspected, acceptable, strict=True)]


def test_the_share_of_lohrs_seedlings_and_its_error():
    """Lohr, Sampling (2021), example 4.5: ratio .2961, standard error .115; limits as R survey 4.1-1 xlogit."""
    held = [
        (n, x) for n, x in zip(SEEDLINGS_1992, SEEDLINGS_1994, strict=True) if n
    ]  # a spot without a tree is none
    found = quality(spots(*zip(*held, strict=True)))
    assert round(found.value, 4) == 0.2961
    assert (found.n_spots, found.inspected, found.acceptable, found.basis) == (9, 206, 61, SPREAD)
    with_empty = one_block(SEEDLINGS_1994, SEEDLINGS_1992)
    # An empty plot adds no residual, so the errors differ by √(10/9 ÷ 9/8) alone.
    assert found.se == pytest.approx(float(with_empty.se[0]) * np.sqrt((9 / 8) / (10 / 9)), rel=1e-12)
    assert float(with_empty.se[0]) == pytest.approx(0.115, abs=5e-4)


@pytest.mark.parametrize(
    ("x", "n", "exact"),
    [
        (81, 263, (0.2527, 0.3676)),
        (15, 148, (0.0578, 0.1617)),
        (0, 20, (0, 0.1684)),
        (1, 29, (0.0009, 0.1776)),
    ],
)
def test_one_spot_has_the_exact_limits_of_newcombes_table(x, n, exact):
    """Newcombe (1998), Statistics in Medicine 17:857, table I, method 5 (from memory)."""
    found = quality([Spot(n, x)])
    assert (found.basis, found.se) == (ONE_SPOT, None)
    assert (round(found.lower, 4), round(found.upper, 4)) == exact


def test_one_spot_of_any_count_has_the_limits_of_statsmodels():
    for n in (1, 7, 20, 60):
        for x in range(n + 1):
            found = quality([Spot(n, x)], 0.9)
            assert_allclose((found.lower, found.upper), proportion_confint(x, n, 0.1, "beta"), atol=1e-9)


def test_several_spots_have_the_ratio_and_error_of_the_survival_estimator_and_limits_by_scipy():
    rng = np.random.default_rng(5)
    for n in (2, 5, 12):
        inspected = rng.integers(8, 25, n)
        acceptable = rng.binomial(inspected, rng.beta(8, 2, n))
        found, other = quality(spots(inspected, acceptable)), one_block(list(acceptable), list(inspected))
        assert_allclose((found.value, found.se), (other.value[0], other.se[0]), rtol=1e-12)
        half = stats.t.ppf(0.975, n - 1) * found.se / (found.value * (1 - found.value))
        wanted = special.expit(special.logit(found.value) + np.array([-half, half]))
        assert_allclose((found.lower, found.upper), wanted, atol=1e-10)


@pytest.mark.parametrize("good", [0, 20, 15])
def test_spots_without_spread_have_exact_limits_on_fewer_trees(good):
    """The edge rule of survival: Clopper–Pearson on trees / (1 + (m − 1) × 0.1)."""
    found = quality(spots([20] * 4, [good] * 4))
    assert (found.basis, found.se) == (NO_SPREAD, pytest.approx(0, abs=1e-12))
    n = intervals.edge_trees(80, 20)
    assert effective_trees(spots([20] * 4, [good] * 4)) == pytest.approx(float(n))
    assert_allclose((found.lower, found.upper), np.ravel(intervals.edge_limits(good / 20, n)), atol=1e-9)
    alone = exact_limits(good * 4, 80)
    assert found.upper - found.lower > alone[1] - alone[0]


def test_nothing_looked_at_is_no_figure_and_odd_numbers_are_refused():
    assert (quality([]).value, quality([]).basis) == (None, NOTHING)
    for wrong in ([Spot(0, 0)], [Spot(5, 6)], [Spot(5, -1)]):
        with pytest.raises(ValueError, match="at least one tree"):
            quality(wrong)
    with pytest.raises(ValueError, match="level"):
        quality([Spot(5, 5)], 1.0)


some = st.lists(
    st.integers(1, 40).flatmap(lambda n: st.tuples(st.just(n), st.integers(0, n))), min_size=1, max_size=8
)


@settings(max_examples=40)
@given(some)
def test_limits_hold_the_share_and_mirror_what_is_at_fault(rows):
    found = quality([Spot(n, x) for n, x in rows])
    assert 0 <= found.lower <= found.value + 1e-9
    assert found.value - 1e-9 <= found.upper <= 1
    turned = quality([Spot(n, n - x) for n, x in rows])
    assert_allclose((turned.lower, turned.upper), (1 - found.upper, 1 - found.lower), atol=1e-6)


def test_faults_are_added_up_the_most_frequent_first():
    assert list(faults_in_all([{"b": 1}, {"a": 1, "c": 4}, {"b": 1}]).items()) == [
        ("c", 4),
        ("b", 2),
        ("a", 1),
    ]

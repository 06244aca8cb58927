"""The headline interval: coverage by simulation, and what must hold for any counts."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitoring.estimators.limits import honest_limits
from monitoring.estimators.posterior import posterior_quantiles
from monitoring.estimators.round_estimates import round_estimates
from monitoring.estimators.rows import EstimateSettings
from monitoring.estimators.table import CountTable

plots = st.lists(
    st.tuples(st.integers(1, 30), st.integers(0, 30)).map(lambda pair: (min(pair[1], pair[0]), pair[0])),
    min_size=2,
    max_size=12,
)


def block_rows(counted, **options):
    alive, planted = zip(*counted, strict=True)
    table = CountTable.build(
        block=[0] * len(alive), plot=range(len(alive)), species=[0] * len(alive), planted=planted, alive=alive
    )
    rows = round_estimates(table, EstimateSettings(**options), scopes=("block",))
    return {row.method: row for row in rows if row.measure == "survival"}


def simulated(rng, surveys, n_plots, survival, icc):
    """Beta-binomial surveys: codes, living and counted trees."""
    size = 1 / icc - 1
    trees = rng.integers(15, 26, surveys * n_plots)
    plot = rng.beta(survival * size, (1 - survival) * size, surveys * n_plots)
    return np.repeat(np.arange(surveys), n_plots), rng.binomial(trees, plot), trees


@pytest.mark.parametrize(
    ("n_plots", "survival", "icc"),
    [(8, 0.85, 0.1), (12, 0.95, 0.05), (12, 0.70, 0.2), (20, 0.90, 0.1), (30, 0.50, 0.1)],
)
def test_nominal_95_percent_limits_hold_the_truth_at_least_94_times_in_100(n_plots, survival, icc):
    """1,500 surveys a cell: the Monte-Carlo standard error is 0.56 points, so three of them are allowed."""
    rng = np.random.default_rng([n_plots, int(survival * 100), int(icc * 100)])
    domain, alive, trees = simulated(rng, 1500, n_plots, survival, icc)
    found = posterior_quantiles(domain, alive, trees, 1500, [0.025, 0.975])
    limits = honest_limits(found, domain, alive, trees)
    covered = ((limits[:, 0] <= survival) & (survival <= limits[:, 1])).mean()
    assert 0.945 - 3 * 0.0056 < covered <= 0.99
    assert (survival < limits[:, 0]).mean() < 0.03  # survival made to look better than it is: seldom


@settings(max_examples=60, deadline=None)
@given(plots)
def test_every_method_holds_the_estimate_inside_0_and_1(counted):
    for row in block_rows(counted).values():
        assert row.status == "ok"
        for low, high in (
            ("lower", "upper"),
            ("lower_decision", "upper_decision"),
            ("lower_claim", "upper_claim"),
        ):
            assert 0 <= getattr(row, low) <= row.value + 1e-12
            assert row.value - 1e-12 <= getattr(row, high) <= 1
        assert row.lower < row.upper


@settings(max_examples=40, deadline=None)
@given(plots)
def test_a_higher_level_never_gives_a_narrower_interval(counted):
    narrow, wide = block_rows(counted, level=0.8), block_rows(counted, level=0.99)
    assert narrow.keys() == wide.keys()
    for method, row in narrow.items():
        assert wide[method].lower <= row.lower + 1e-12
        assert wide[method].upper >= row.upper - 1e-12


@settings(max_examples=30, deadline=None)
@given(plots, st.randoms())
def test_the_order_of_plots_does_not_matter(counted, random):
    shuffled = counted[:]
    random.shuffle(shuffled)
    before, after = block_rows(counted), block_rows(shuffled)
    for method, row in before.items():
        assert (row.value, row.n_trees) == (after[method].value, after[method].n_trees)
        assert (row.lower, row.upper) == pytest.approx((after[method].lower, after[method].upper), abs=1e-9)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.integers(1, 30), min_size=2, max_size=10))
def test_all_alive_and_none_alive_reach_the_end_and_never_close_the_interval(sizes):
    for row in block_rows([(size, size) for size in sizes]).values():
        assert row.upper == row.upper_claim == 1
        assert row.lower < 1
    for row in block_rows([(0, size) for size in sizes]).values():
        assert row.lower == row.lower_decision == 0
        assert row.upper > 0


def test_a_block_gets_the_same_bytes_alone_and_in_a_batch():
    domain, alive, trees = simulated(np.random.default_rng(5), 300, 9, 0.8, 0.1)
    batch = posterior_quantiles(domain, alive, trees, 300, [0.025, 0.975])
    for block in (0, 7, 130, 299):
        mine = domain == block
        alone = posterior_quantiles(domain[mine] * 0, alive[mine], trees[mine], 1, [0.025, 0.975])
        assert (alone.quantiles[0] == batch.quantiles[block]).all()
        assert alone.icc[0] == batch.icc[block]


def test_blocks_with_very_many_plots_are_resolved_finely():
    rng = np.random.default_rng(11)
    domain, alive, trees = simulated(rng, 1, 600, 0.85, 0.1)
    found = posterior_quantiles(domain, alive, trees, 1, [0.025, 0.5, 0.975])
    share = alive.sum() / trees.sum()
    residual = alive - share * trees
    se = np.sqrt(600 / 599 * (residual**2).sum()) / trees.sum()
    assert found.quantiles[0, 1] == pytest.approx(share, abs=0.002)
    width = found.quantiles[0, 2] - found.quantiles[0, 0]
    assert width == pytest.approx(2 * 1.96 * se, rel=0.1)


def test_counts_outside_their_plot_are_refused():
    with pytest.raises(ValueError, match="between 0 and total"):
        posterior_quantiles([0, 0], [3, 11], [10, 10], 1, [0.5])

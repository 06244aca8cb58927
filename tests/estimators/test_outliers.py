"""Plots far from the others of their block: the stated rule, by hand and over many made-up surveys."""

import numpy as np
import pytest

from monitoring.estimators.outliers import FAR, distances, medians, plot_shares
from monitoring.estimators.table import SEED_SPOT, CountTable

USUAL = [18, 17, 19, 18, 16, 18, 17, 19]


def test_a_bare_plot_among_full_ones_is_far_and_so_is_a_full_one_among_bare_ones():
    for alive, last in (([*USUAL, 1], -1), ([20 - n for n in (*USUAL, 1)], 1)):
        found = distances([0] * 9, alive, [20] * 9)
        assert found.far.tolist() == [False] * 8 + [True]
        assert np.sign(found.deviations[8]) == last


def test_the_distance_by_hand():
    """Middle plot 18 of 20; its logit is log(18.5/2.5); the median distance from it is that of 17 or 19."""
    found = distances([0] * 9, [*USUAL, 1], [20] * 9)
    logit = np.log((np.array([*USUAL, 1]) + 0.5) / (20.5 - np.array([*USUAL, 1])))
    spread = 1.4826 * np.median(np.abs(logit - np.median(logit)))
    usual = 18.5 / 21
    chance = (1 / (20 * usual + 0.5) + 1 / (20 * (1 - usual) + 0.5)) ** 0.5
    assert found.usual == pytest.approx(np.full(9, usual))
    assert found.deviations[8] == pytest.approx((logit[8] - np.median(logit)) / max(spread, chance))


def test_fewer_than_eight_plots_call_none_far():
    found = distances([0] * 7, [*USUAL[:6], 0], [20] * 7)
    assert not found.far.any()
    assert np.isnan(found.deviations).all()


def test_plots_that_agree_exactly_leave_room_for_chance():
    found = distances([0] * 9, [20] * 8 + [18], [20] * 9)
    assert not found.far.any()
    assert distances([0] * 9, [20] * 8 + [4], [20] * 9).far[8]


def test_a_small_plot_needs_more_to_be_far_than_a_large_one():
    small = distances([0] * 9, [*USUAL, 1], [20] * 8 + [3])
    large = distances([0] * 9, [*USUAL, 10], [20] * 8 + [30])
    assert abs(small.deviations[8]) < min(FAR, abs(large.deviations[8]))


def test_blocks_are_judged_apart():
    block = [0] * 9 + [1] * 9
    found = distances(block, [*USUAL, 1, *([2] * 8), 1], [20] * 18)
    assert np.flatnonzero(found.far).tolist() == [8]


def test_medians_agree_with_numpy():
    draws = np.random.default_rng(3)
    group, values = draws.integers(0, 7, 200), draws.normal(size=200)
    expected = [np.median(values[group == code]) for code in range(7)]
    assert medians(group, values, 7) == pytest.approx(expected)
    assert np.isnan(medians(group, values, 8)[7])


def test_shares_take_planted_trees_alone_and_cap_them():
    table = CountTable.build(
        block=[0, 0, 0, 0], plot=[0, 0, 1, 2], planted=[10, 10, 30, 10], alive=[14, 3, 9, 0],
        not_assessed=[0, 2, 0, 10], unit=[0, 0, SEED_SPOT, 0],
    )  # fmt: skip
    found = plot_shares(table)
    assert (found.plot.tolist(), found.alive.tolist(), found.trees.tolist()) == ([0], [13], [18])


@pytest.mark.parametrize(("icc", "share"), [(0.05, 0.7), (0.1, 0.9), (0.2, 0.5)])
def test_ordinary_blocks_seldom_call_a_plot_far_and_a_wiped_out_plot_is_mostly_found(icc, share):
    draws = np.random.default_rng(20261125)
    n_blocks, n_plots = 400, 12
    spread = (1 - icc) / icc
    fate = draws.beta(share * spread, (1 - share) * spread, (n_blocks, n_plots))
    trees = draws.integers(15, 26, (n_blocks, n_plots))
    alive, block = draws.binomial(trees, fate), np.repeat(np.arange(n_blocks), n_plots)
    assert distances(block, alive.ravel(), trees.ravel()).far.mean() < 0.03
    alive[:, 0] = 0
    wiped = distances(block, alive.ravel(), trees.ravel()).far.reshape(n_blocks, n_plots)[:, 0]
    assert wiped.mean() > 0.3

"""Differences of shares: printed tables, statsmodels, R, and what chance does to ten alike species."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from statsmodels.stats.contingency_tables import StratifiedTable
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import confint_proportions_2indep

from monitoring.estimators.contrast import Counts, cells_of, within_block_contrasts
from monitoring.estimators.differences import false_discovery, mover, newcombe
from monitoring.estimators.mantel_haenszel import common_odds, deflated
from monitoring.estimators.performance import performance
from monitoring.estimators.table import CountTable
from tests.published.checks import cases, ids

# Weil (1970), pups alive at 21 days of those alive at 4, by litter, as printed by Rao & Scott (1992) (from memory)
CONTROL = (
    [13, 12, 9, 9, 8, 8, 12, 11, 9, 9, 8, 11, 4, 5, 7, 7],
    [13, 12, 9, 9, 8, 8, 13, 12, 10, 10, 9, 13, 5, 7, 10, 10],
)
TREATED = (
    [12, 11, 10, 9, 10, 9, 9, 8, 8, 4, 7, 4, 5, 3, 3, 0],
    [12, 11, 10, 9, 11, 10, 10, 9, 9, 5, 9, 7, 10, 6, 10, 7],
)


def side_by_side(*groups):
    """Groups of (alive, total) plots in one block."""
    sizes = [len(alive) for alive, _ in groups]
    alive, total = (np.concatenate([np.array(group[k]) for group in groups]) for k in (0, 1))
    plot = np.arange(alive.size)
    return Counts(np.repeat(np.arange(len(groups)), sizes), plot * 0, plot, alive, total)


@pytest.mark.parametrize(
    ("first", "second", "limits"),
    [
        ((56, 70), (48, 80), (0.0524, 0.3339)),
        ((9, 10), (3, 10), (0.1705, 0.8090)),
        ((6, 7), (2, 7), (0.0582, 0.8062)),
        ((5, 56), (0, 29), (-0.0381, 0.1926)),
        ((0, 10), (0, 20), (-0.1611, 0.2775)),
        ((0, 10), (0, 10), (-0.2775, 0.2775)),
        ((10, 10), (0, 20), (0.6791, 1)),
        ((10, 10), (0, 10), (0.6075, 1)),
    ],
)
def test_difference_of_independent_trees_equals_the_table_of_newcombe(first, second, limits):
    """Newcombe (1998), Statistics in Medicine 17:873, table II, method 10 (from memory)."""
    assert_allclose(np.ravel(newcombe(*first, *second)), limits, atol=5.1e-5)


@pytest.mark.parametrize("name", ids("7-newcombe"))
def test_difference_equals_statsmodels_and_keeps_near_the_score_limits(name):
    case = cases()[name]
    x1, n1, x2, n2 = (case["inputs"][key] for key in ("x1", "n1", "x2", "n2"))
    found = np.ravel(newcombe(x1, n1, x2, n2))
    assert_allclose(found, case["expected"]["newcombe"], atol=case["tolerance"])
    with np.errstate(divide="ignore"):  # statsmodels also works out a ratio of odds
        score = confint_proportions_2indep(x1, n1, x2, n2, method="score")
    assert_allclose(score, case["expected"]["miettinen_nurminen_score"], atol=1e-6)
    assert_allclose(found, score, atol=0.02)


def test_differences_over_a_grid_equal_statsmodels():
    for x1, n1, x2, n2 in [
        (0, 5, 3, 9),
        (5, 5, 9, 9),
        (17, 20, 14, 20),
        (1, 40, 39, 40),
        (300, 400, 280, 400),
    ]:
        for alpha in (0.2, 0.05, 0.01):
            theirs = confint_proportions_2indep(x1, n1, x2, n2, method="newcomb", alpha=alpha)
            assert_allclose(np.ravel(newcombe(x1, n1, x2, n2, 1 - alpha)), theirs, atol=1e-12)


def test_difference_of_two_clustered_shares_equals_mover_on_the_limits_of_r():
    case = cases()["7-mover-cluster-diff"]
    groups = [(case["inputs"][g]["y"], case["inputs"][g]["m"]) for g in ("group1", "group2")]
    found = within_block_contrasts(cells_of(side_by_side(*groups)), 2)
    lower, upper = found.limits()
    assert found.value[0] == pytest.approx(case["expected"]["diff"], abs=case["tolerance"])
    assert_allclose([lower[0], upper[0]], case["expected"]["mover_xlogit"], atol=case["tolerance"])
    assert_allclose([lower[1], upper[1]], [-upper[0], -lower[0]], atol=1e-12)


def test_combined_odds_equal_r_and_statsmodels():
    case = cases()["7-cmh-small"]
    (a, b), (c, d) = np.moveaxis(np.array(case["inputs"]["tables"]), 0, -1)
    found, expected = common_odds(a, a + b, c, c + d), case["expected"]
    assert found.ratio == pytest.approx(expected["mh_or"], abs=case["tolerance"])
    assert (found.statistic, found.p_value) == pytest.approx((expected["stat"], expected["p"]), abs=1e-6)
    assert (found.lower, found.upper) == pytest.approx(tuple(expected["or_ci95"]), abs=case["tolerance"])
    gap = abs((a - (a + b) * (a + c) / (a + b + c + d)).sum())
    corrected = (gap - 0.5) ** 2 / (gap**2 / found.statistic)
    assert corrected == pytest.approx(expected["stat_corrected"], abs=case["tolerance"])


def test_combined_odds_of_random_blocks_equal_statsmodels():
    rng = np.random.default_rng(11)
    for n_blocks in (1, 2, 7, 40):
        trees = rng.integers(8, 60, (2, n_blocks))
        alive = rng.binomial(trees, [[0.8], [0.65]])
        tables = np.array([alive, trees - alive]).transpose(1, 0, 2).astype(float)
        theirs = StratifiedTable(tables)
        found = common_odds(alive[0], trees[0], alive[1], trees[1], 0.9)
        null = theirs.test_null_odds(correction=False)
        assert found.ratio == pytest.approx(theirs.oddsratio_pooled, rel=1e-10)
        assert (found.lower, found.upper) == pytest.approx(
            theirs.oddsratio_pooled_confint(alpha=0.1), rel=1e-9
        )
        assert (found.statistic, found.p_value) == pytest.approx((null.statistic, null.pvalue), rel=1e-8)


def test_false_discoveries_are_held_as_in_the_example_of_benjamini_and_hochberg():
    case = cases()["7-bh-1995"]
    found = false_discovery(case["inputs"]["p"])
    assert_allclose(found, case["expected"]["adjusted"], atol=case["tolerance"])
    assert (found <= case["inputs"]["q"]).tolist() == case["expected"]["reject"]


def test_adjusted_chances_equal_statsmodels_and_leave_out_what_was_not_compared():
    rng = np.random.default_rng(5)
    for size in (1, 2, 30, 400):
        p = rng.beta(0.5, 2, size).round(3)  # with ties
        assert_allclose(false_discovery(p), multipletests(p, method="fdr_bh")[1], atol=1e-12)
    with_gaps = false_discovery([0.01, np.nan, 0.04])
    assert_allclose(with_gaps, [0.02, np.nan, 0.04])


def test_litters_take_away_most_of_a_difference():
    """Rao & Scott (1992) on Weil's litters: design effects 1.23 and 3.95; z 2.99 becomes 1.70 (from memory)."""
    contrasts = within_block_contrasts(cells_of(side_by_side(CONTROL, TREATED)), 2)
    assert np.round(contrasts.own.value, 3).tolist() == [0.899, 0.772]
    assert np.round(contrasts.own.deff, 2).tolist() == [1.23, 3.95]
    naive = contrasts.value / np.sqrt(contrasts.own.binomial + contrasts.peer.binomial)
    assert np.abs(naive).round(2).tolist() == [2.99, 2.99]
    assert np.abs(contrasts.value / np.sqrt(contrasts.variance)).round(2).tolist() == [1.70, 1.70]
    assert contrasts.p_values()[0] > 0.05
    (x1, x2), (n1, n2) = deflated([142, 112], [158, 145], contrasts.own.deff)
    assert common_odds([142], [158], [112], [145]).p_value < 0.005
    assert common_odds([x1], [n1], [x2], [n2]).p_value > 0.04


def test_a_difference_between_single_trees_agrees_with_mantel_and_haenszel():
    """With one tree a plot nothing is clustered: the squared difference over its variance is that of the odds."""
    rng = np.random.default_rng(8)
    block, item = np.repeat([0, 1, 2], 160), np.tile([0, 1], 240)
    alive = rng.binomial(1, np.where(item == 0, 0.75, 0.62) - 0.1 * block)
    cells = cells_of(Counts(item, block, np.arange(480), alive, np.ones(480, int)))
    found, mine = within_block_contrasts(cells, 2), cells.item == 0
    odds = common_odds(cells.alive[mine], cells.trees[mine], cells.peer_alive[mine], cells.peer_trees[mine])
    assert found.own.deff == pytest.approx([1, 1], abs=0.02)
    assert found.value[0] ** 2 / found.variance[0] == pytest.approx(odds.statistic, rel=0.05)
    assert 0.001 < found.p_values()[0] < 0.05


shares = st.floats(0.001, 0.999)


@given(shares, shares, st.floats(0, 1), st.floats(0, 1), st.floats(0, 2))
def test_limits_of_a_difference_hold_it_and_turn_round_with_it(p, q, reach, other, pairing):
    own, peer = (p * (1 - reach), p + (1 - p) * reach), (q * (1 - other), q + (1 - q) * other)
    lower, upper = (float(x) for x in mover(p, own, q, peer, pairing))
    assert -1 <= lower <= p - q + 1e-12
    assert p - q - 1e-12 <= upper <= 1
    assert_allclose([float(x) for x in mover(q, peer, p, own, pairing)], [-upper, -lower], atol=1e-12)


@given(st.lists(st.floats(0, 1), min_size=1, max_size=30))
def test_adjusting_never_makes_a_chance_smaller_nor_changes_the_order(p):
    adjusted = false_discovery(p)
    assert (adjusted >= np.array(p) - 1e-15).all()
    assert (adjusted <= 1).all()
    assert (np.diff(adjusted[np.argsort(p, kind="stable")]) >= 0).all()


def test_the_chance_of_a_difference_is_the_level_at_which_its_limits_reach_nothing():
    rng = np.random.default_rng(2)
    item, plot = np.tile([0, 1, 2], 20), np.repeat(np.arange(20), 3)
    trees = rng.integers(3, 9, 60)
    counts = Counts(item, plot // 10, plot, rng.binomial(trees, np.array([0.9, 0.7, 0.5])[item]), trees)
    found = within_block_contrasts(cells_of(counts), 3)
    p = found.p_values()
    assert 0 < p[0] < 0.05
    lower, upper = found.limits(1 - p)
    assert_allclose(np.minimum(np.abs(lower), np.abs(upper)), 0, atol=1e-6)


def test_ten_alike_species_of_ten_trees_make_a_league_table_of_chance():
    """Computed: at survival .8 the chance that some species shows 100 % is .679."""
    assert round(1 - (1 - 0.8**10) ** 10, 3) == 0.679
    shown = (np.random.default_rng(0).binomial(10, 0.8, (4000, 10)) == 10).any(axis=1).mean()
    assert shown == pytest.approx(0.679, abs=0.02)


def alike_species(seed, n_plots=10, survival=0.8, icc=0.1):
    """Ten species alike, one tree of each in every plot; the plots differ."""
    rng = np.random.default_rng(seed)
    level = rng.beta(survival * (1 / icc - 1), (1 - survival) * (1 / icc - 1), n_plots)
    plot, species = np.repeat(np.arange(n_plots), 10), np.tile(np.arange(10), n_plots)
    return CountTable.build(
        block=plot * 0, plot=plot, species=species, planted=plot * 0 + 1, alive=rng.binomial(1, level[plot])
    )


def test_ten_alike_species_yield_no_winner():
    """Of 200 draws of ten alike species 5 % at most may name one; raw counts would crown one more often than not."""
    named = crowned = full = 0
    for seed in range(200):
        found = performance(alike_species(seed), "species")
        assert {row.status for row in found} == {"ok"}
        named += any(row.p_adjusted <= 0.05 for row in found)
        crowned += any(row.rank_low == row.rank_high == 1 for row in found)
        full += any(row.raw == 1 for row in found)
    assert named <= 10
    assert crowned <= 4
    assert full > 100


@pytest.mark.parametrize(("trees", "alike_in"), [(1, 0.9), (3, 0.8)])
def test_plots_that_hold_every_species_do_not_name_a_difference_too_often(trees, alike_in):
    """Lopsided shares of very unlike precision in the same plots: 300 draws, 5 % and its error of simulation."""
    named = 0
    for seed in range(300):
        rng = np.random.default_rng(seed)
        level = rng.beta(9 * alike_in, 9 * (1 - alike_in), 10)
        plot, species = np.repeat(np.arange(10), 10), np.tile(np.arange(10), 10)
        number = plot * 0 + trees
        counts = Counts(species, plot * 0, plot, rng.binomial(number, level[plot]), number)
        p = within_block_contrasts(cells_of(counts), 10).p_values()
        named += (false_discovery(p) <= 0.05).any()
    assert named <= 300 * 0.07


def two_lots(seed, blocks, plots, trees, gap, icc=0.1):
    """Two lots in plots of their own in every block; the first lives `gap` less."""
    rng = np.random.default_rng(seed)
    item, block = np.tile([0, 1], blocks * plots), np.repeat(np.arange(blocks), 2 * plots)
    mean = np.clip(rng.normal(0.8, 0.05, blocks), 0.6, 0.92)[block] - gap * (item == 0)
    level = rng.beta(mean * (1 / icc - 1), (1 - mean) * (1 / icc - 1))
    number = np.full(item.size, trees)
    return Counts(item, block, np.arange(item.size), rng.binomial(number, level), number)


@pytest.mark.parametrize(
    ("blocks", "plots", "trees", "gap"), [(4, 6, 20, 0.15), (3, 8, 10, 0.0), (10, 1, 20, 0.1)]
)
def test_limits_of_a_difference_within_blocks_cover_it_as_often_as_they_say(blocks, plots, trees, gap):
    """500 seeded surveys; 1.9 points are two standard errors of the simulation at 95 %."""
    held = 0
    for seed in range(500):
        lower, upper = within_block_contrasts(cells_of(two_lots(seed, blocks, plots, trees, gap)), 2).limits()
        held += lower[0] <= -gap <= upper[0]
    assert 0.93 <= held / 500 <= 0.985

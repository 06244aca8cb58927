"""Comparison within blocks and seasons: who is whose peer, what chance does, and what would separate things."""

import numpy as np
import pytest
from scipy import stats

from monitoring.estimators.contrast import Counts, cells_of, within_block_contrasts
from monitoring.estimators.handling import handling
from monitoring.estimators.performance import performance
from monitoring.estimators.rows import EstimateSettings
from monitoring.estimators.table import CountTable


def table_of(lines, names="abcdefgh", species=None):
    """One line per plot: (block, lot, alive of 20); plots are numbered in order."""
    block, lot, alive = zip(*lines, strict=True)
    n = len(lines)
    return CountTable.build(
        block=block, plot=range(n), lot=lot, species=species or [0] * n, planted=[20] * n, alive=alive,
        labels={
            "lot": tuple(names[: max(lot) + 1]), "block": ("North", "South", "East", "West")[: max(block) + 1],
            "species": ("alder", "oak"),
        },
    )  # fmt: skip


def plots(block, lot, *alive):
    return [(block, lot, n) for n in alive]


GOOD, POOR = (19, 18, 20, 17, 19, 18), (10, 12, 8, 13, 9, 11)


def by_key(table, scope="lot", **more):
    return {row.key: row for row in performance(table, scope, **more)}


def test_a_gap_between_two_stays_sure_beside_lots_that_stand_alone():
    lines = plots(0, 0, *GOOD) + plots(0, 1, *POOR) + plots(1, 2, *GOOD) + plots(2, 3, *POOR)
    rows = by_key(table_of(lines))
    assert [rows[key].status for key in "abcd"] == ["ok", "ok", "cannot_separate", "cannot_separate"]
    assert [(rows[key].rank_low, rows[key].rank_high) for key in "ab"] == [(1, 1), (2, 2)]
    assert rows["a"].chance_best > 0.99
    assert rows["a"].p_adjusted < 0.002
    assert rows["a"].odds > 1 > rows["b"].odds
    assert rows["a"].odds_lower > 1


def test_few_plots_make_ranks_less_sure_and_lots_that_stand_alone_do_not():
    """The design effect is raised by the squared ratio of Student's t to the normal, at the plots compared."""
    shared = plots(0, 0, *GOOD) + plots(0, 1, *POOR)
    apart = plots(1, 2, *GOOD) + plots(2, 3, *POOR) + plots(3, 4, *GOOD)
    found = []
    for lines in (shared, shared + apart):
        block, lot, alive = (np.array(column) for column in zip(*lines, strict=True))
        counts = Counts(lot, block, np.arange(block.size), alive, alive * 0 + 20)
        contrasts = within_block_contrasts(cells_of(counts), lot.max() + 1)
        t = stats.t.ppf(0.975, 5) / stats.norm.ppf(0.975)
        found.append(contrasts.deff_at(0.95))
        assert found[-1] == pytest.approx(contrasts.deff * t**2, rel=1e-9)
    assert found[0] == pytest.approx(found[1])


def test_what_cannot_be_separated_names_the_peer_and_the_blocks_that_would_do_it():
    lines = plots(0, 0, *GOOD) + plots(0, 1, *POOR, *POOR) + plots(1, 2, *GOOD) + plots(2, 2, *GOOD[:2])
    row = by_key(table_of(lines))["c"]
    assert row.blocks == ("South", "East")
    assert (row.beside, row.beside_blocks) == ("b", ("North",))


def test_the_only_lot_of_its_species_has_nothing_to_stand_beside():
    lines = plots(0, 0, *GOOD) + plots(0, 1, *POOR) + plots(1, 2, *GOOD)
    rows = by_key(table_of(lines, species=[0] * 12 + [1] * 6))
    assert (rows["c"].status, rows["c"].beside) == ("alone", None)
    assert rows["a"].status == "ok"


def test_trees_of_another_season_are_no_peers():
    lines = plots(0, 0, *GOOD) + plots(0, 1, *POOR) + plots(0, 2, *GOOD)
    table = table_of(lines)
    season = np.repeat([0, 0, 1], 6)
    rows = by_key(table, season=season)
    assert [rows[key].status for key in "abc"] == ["ok", "ok", "cannot_separate"]
    assert rows["a"].within_block == pytest.approx(111 / 120 - 63 / 120)
    assert by_key(table)["c"].status == "ok"


def test_one_plot_of_each_lot_in_many_blocks_is_a_comparison():
    """A lot that lives 3 trees better in each of eight very unlike blocks, one plot of each there."""
    levels = (6, 9, 15, 12, 16, 8, 11, 14)
    steps = (3, 4, 2, 3, 3, 2, 4, 3)
    lines = [(b, 0, n + step) for b, (n, step) in enumerate(zip(levels, steps, strict=True))]
    lines += [(b, 1, n) for b, n in enumerate(levels)]
    block, lot, alive = zip(*lines, strict=True)
    table = CountTable.build(
        block=block, plot=range(16), lot=lot, species=[0] * 16, planted=[20] * 16, alive=alive,
        labels={"lot": ("a", "b")},
    )  # fmt: skip
    row = by_key(table)["a"]
    assert row.within_block == pytest.approx(0.15)
    assert 0.08 < row.within_lower < 0.15 < row.within_upper < 0.22


def test_blocks_that_hold_one_plot_of_a_side_do_not_claim_certainty():
    """The peer has a plot in each of five blocks of its own kind beside five plots of the lot in one of them."""
    lines = plots(0, 0, *GOOD) + plots(0, 1, 10) + plots(1, 1, 9, 10, 11, 12)
    rows = by_key(table_of(lines))
    assert rows["a"].within_block == pytest.approx(111 / 120 - 0.5)
    assert rows["a"].within_lower < 0
    assert rows["a"].p_adjusted > 0.05


def test_lots_alive_to_the_last_tree_are_alike_with_limits_that_admit_a_difference():
    rows = by_key(table_of(plots(0, 0, *[20] * 6) + plots(0, 1, *[20] * 6)))
    for row in rows.values():
        assert row.within_block == 0
        assert -0.2 < row.within_lower < -0.02
        assert 0.02 < row.within_upper < 0.2
        assert row.p_adjusted > 0.5
        assert row.odds is None


def test_the_more_things_are_compared_the_less_one_difference_means():
    rng = np.random.default_rng(4)
    pair = plots(0, 0, 17, 15, 18, 16, 14, 17, 16, 15) + plots(0, 1, 14, 12, 15, 16, 11, 14, 13, 15)
    others = [(block, lot, int(n)) for block, lots in ((1, (2, 3, 4)), (2, (5, 6, 7)))
              for lot in lots for n in rng.binomial(20, 0.8, 8)]  # fmt: skip
    alone, among = by_key(table_of(pair))["a"], by_key(table_of(pair + others))["a"]
    assert alone.p_value == pytest.approx(among.p_value)
    assert alone.p_adjusted == pytest.approx(alone.p_value)
    assert among.p_adjusted > 2 * alone.p_adjusted


def test_the_minimum_of_plots_is_a_setting():
    table = table_of(plots(0, 0, *GOOD[:3]) + plots(0, 1, *POOR[:3]))
    assert {row.status for row in by_key(table).values()} == {"too_few_plots"}
    assert {row.status for row in by_key(table, settings=EstimateSettings(minimum_plots=3)).values()} == {
        "ok"
    }


def test_dates_and_crews_are_weighed_over_shared_blocks_only():
    item, cell = np.array([0, 1, 0, 1, 0]), np.array([0, 0, 1, 1, 2])
    trees, cohort = np.array([10, 30, 30, 10, 99]), np.array([0, 1, 2, 3, 4])
    day = np.array([100.0, 60.0, 100.0, 80.0, 900.0])
    found = handling(item, cell, trees, cohort, day, [{"n"}, {"s"}, {"n"}, {"s"}, {"s"}])
    assert found[0].days_later == pytest.approx((10 * 40 + 30 * 20) / 40)
    assert found[1].days_later == pytest.approx(-(30 * 40 + 10 * 20) / 40)
    assert found[0].crews_apart
    assert not handling(item, cell, trees, cohort, day, [{"n"}, {"s"}, {"n"}, {"n", "s"}, {"s"}])[
        0
    ].crews_apart
    unknown = handling(
        item, cell, trees, cohort, np.where(day == 60, np.nan, day), [(), {"s"}, {"n"}, {"s"}, {"s"}]
    )
    assert (unknown[0].days_later, unknown[0].crews_apart) == (None, False)
    assert set(handling(item[-1:], cell[-1:], trees[-1:], cohort[-1:], day, [()] * 5)) == set()

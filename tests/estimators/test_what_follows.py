"""Performance beside peers, season totals and stocking over blocks."""

import numpy as np
import pytest

from monitoring.estimators.performance import performance
from monitoring.estimators.rows import EstimateRow
from monitoring.estimators.season import season_totals
from monitoring.estimators.stocking import stocking_estimates
from monitoring.estimators.stocking_table import StockingTable
from monitoring.estimators.table import CountTable


def lots_table(block_of_lot, survival, plots=8, seed=3):
    """Lots of one species, 10 trees a plot in every block they stand in."""
    rng = np.random.default_rng(seed)
    lines = [
        (block, block * plots + plot, lot, rng.binomial(10, survival[lot]))
        for lot, blocks in enumerate(block_of_lot) for block in blocks for plot in range(plots)
    ]  # fmt: skip
    block, plot, lot, alive = zip(*lines, strict=True)
    n = len(lines)
    return CountTable.build(
        block=block, plot=plot, lot=lot, species=[0] * n, planted=[10] * n, alive=alive,
        labels={"lot": tuple("abcdef"[: len(block_of_lot)])},
    )  # fmt: skip


def test_a_lot_that_did_badly_in_shared_blocks_ranks_last():
    rows = {
        row.key: row for row in performance(lots_table([(0, 1), (0, 1), (0, 1)], [0.9, 0.85, 0.4]), "lot")
    }
    assert {row.status for row in rows.values()} == {"ok"}
    assert (rows["c"].rank_low, rows["c"].rank_high) == (3, 3)
    assert rows["c"].within_upper < 0
    assert rows["a"].chance_best > rows["c"].chance_best
    for row in rows.values():
        assert row.lower < row.pooled < row.upper
        assert row.within_lower <= row.within_block <= row.within_upper


def test_a_lot_alone_in_its_block_cannot_be_separated():
    rows = {row.key: row for row in performance(lots_table([(0,), (0,), (1,)], [0.8, 0.7, 0.99]), "lot")}
    assert (rows["c"].status, rows["c"].rank_low, rows["c"].group) == ("cannot_separate", None, 0)
    assert rows["a"].status == rows["b"].status == "ok"


def test_lots_linked_by_a_chain_of_blocks_are_one_group():
    rows = performance(lots_table([(0,), (0, 1), (1,), (2,), (2,)], [0.8] * 5), "lot")
    assert [row.group for row in rows] == [1, 1, 1, 2, 2]


def test_the_only_lot_is_alone_and_unranked():
    (row,) = performance(lots_table([(0, 1)], [0.8]), "lot")
    assert (row.status, row.rank_low) == ("alone", None)


def test_below_the_minimum_of_plots_there_is_no_share_and_no_rank():
    rows = performance(lots_table([(0,), (0,)], [0.9, 0.5], plots=4), "lot")
    assert {row.status for row in rows} == {"too_few_plots"}
    assert all(row.raw is None and row.pooled is None and row.rank_low is None for row in rows)
    assert all(row.n_trees == 40 for row in rows)


def test_alike_lots_share_all_ranks_and_keep_honest_limits():
    rows = performance(lots_table([(0, 1)] * 4, [0.8] * 4), "lot")
    assert all(row.rank_low <= 2 and row.rank_high >= 3 for row in rows)
    assert all(row.upper - row.lower > 0.04 for row in rows)


def survival_row(value=0.7, lower=0.6, upper=0.78, **more):
    return EstimateRow("block", "A", "survival", "m", 0.95, value=value, lower=lower, upper=upper, **more)


def test_ledger_and_area_disagree_only_beyond_their_intervals():
    stocking = EstimateRow(
        "project", "P", "stocking_planted", "m", 0.95, value=480.0, lower=400.0, upper=560.0
    )
    near = season_totals(1000, survival_row(0.5, 0.42, 0.58), 1.0, stocking)
    far = season_totals(1000, survival_row(0.8, 0.75, 0.85), 1.0, stocking)
    assert (near.from_ledger.value, near.from_area.value) == (500, 480)
    assert not near.disagree
    assert far.disagree


def stocking_table(net_area_ha):
    return StockingTable.build(
        block=[0] * 4 + [1] * 4, area_ha=[0.01] * 8, planted=[10, 12, 8, 10, 4, 6, 5, 5],
        natural=[0, 0, 2, 0, 6, 5, 7, 6], net_area_ha=net_area_ha, target_per_ha=[1000, 800],
        labels={"block": ("A", "B"), "project": ("P",)},
    )  # fmt: skip


def test_stocking_of_a_project_weights_blocks_by_area():
    rows = {(r.scope, r.key, r.measure): r for r in stocking_estimates(stocking_table([3.0, 1.0]))}
    assert rows["project", "P", "stocking_planted"].value == pytest.approx((3 * 1000 + 500) / 4)
    assert rows["project", "P", "stocking_natural"].value == pytest.approx((3 * 50 + 600) / 4)
    assert rows["project", "P", "stocking"].value == pytest.approx((3 * 1050 + 1100) / 4)
    assert rows["block", "A", "plots_stocked"].value == pytest.approx(1.0)
    assert rows["block", "A", "plots_stocked"].lower < 1
    for row in rows.values():
        assert row.lower <= row.value <= row.upper
        assert row.lower < row.upper


def test_stocking_of_a_project_needs_the_area_of_every_block():
    rows = {(r.scope, r.measure): r for r in stocking_estimates(stocking_table([3.0, np.nan]))}
    assert rows["project", "stocking"].reason == "area_missing"
    assert rows["project", "plots_stocked"].reason == "area_missing"


def test_no_trees_in_any_plot_still_leaves_an_upper_limit():
    table = StockingTable.build(
        block=[0] * 6, area_ha=[0.01] * 6, planted=[0] * 6, natural=[0] * 6, net_area_ha=[2.0]
    )
    row = next(r for r in stocking_estimates(table) if r.scope == "block" and r.measure == "stocking")
    assert (row.value, row.lower) == (0, 0)
    assert row.upper > 50

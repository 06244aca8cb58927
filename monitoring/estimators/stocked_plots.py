"""Share of plots that hold their block's target density: what a mean density hides."""

from collections.abc import Iterator

import numpy as np

from monitoring.estimators import rows
from monitoring.estimators.intervals import wilson
from monitoring.estimators.limits import LIMIT_FIELDS, logit_t_limits, six_limits
from monitoring.estimators.rows import EstimateRow, EstimateSettings
from monitoring.estimators.stocking_table import StockingTable
from monitoring.estimators.strata import PlotTotals, RatioEstimates, Sample, ratio_estimates
from monitoring.estimators.table import Floats, Ints


def stocked_rows(table: StockingTable, settings: EstimateSettings) -> Iterator[EstimateRow]:
    """Rows of the share of plots stocked, for the project and every block with a target.

    Notes
    -----
    Plots are independent units, so a block has Wilson limits; over blocks the shares are weighted by net area
    with stratified logit-t limits.

    References
    ----------
    Stocked-quadrat surveys: Stein (1978) (from memory).
    """
    has_target = np.isfinite(table.target_per_ha[table.block])
    if not has_target.any():
        return
    block = table.block[has_target]
    needed = table.target_per_ha[block] * table.area_ha[has_target]
    stocked = (table.planted + table.natural)[has_target] >= needed - 1e-9
    visited = np.bincount(block, minlength=table.net_area_ha.size)
    yield _project(table, block, stocked.astype(np.int64), visited, settings)
    for code in np.flatnonzero(visited):
        yield _block(table, int(code), int(visited[code]), int(stocked[block == code].sum()), settings)


def _row(scope: str, key: str, plots: int, stocked: int, settings: EstimateSettings) -> EstimateRow:
    return EstimateRow(
        scope, key, rows.PLOTS_STOCKED, rows.WILSON_PLOTS, settings.level, n_plots=plots, n_trees=plots,
        n_alive=stocked, is_headline=True,
    )  # fmt: skip


def _block(
    table: StockingTable, code: int, plots: int, stocked: int, settings: EstimateSettings
) -> EstimateRow:
    row = _row("block", table.label("block", code), plots, stocked, settings)
    if plots < 2 and not table.is_census[code]:
        return rows.refused(row, rows.ONE_PLOT)
    share = stocked / plots
    if table.is_census[code]:
        return rows.filled(row, rows.CENSUS, share, 0.0, dict.fromkeys(LIMIT_FIELDS, share))
    limits = six_limits(lambda level: wilson(stocked, plots, level), settings)
    return rows.filled(row, rows.WILSON_PLOTS, share, _binomial_se(share, plots), _named(limits))


def _binomial_se(share: float, plots: int) -> float:
    return float(np.sqrt(share * (1 - share) / (plots - 1)))


def _named(limits: Floats) -> dict[str, float]:
    return dict(zip(LIMIT_FIELDS, map(float, limits), strict=True))


def _project(
    table: StockingTable, block: Ints, stocked: Ints, visited: Ints, settings: EstimateSettings
) -> EstimateRow:
    key, surveyed = table.label("project", 0), np.flatnonzero(visited)
    row = _row("project", key, int(visited.sum()), int(stocked.sum()), settings)
    if surveyed.size == 1:
        only = _block(table, int(surveyed[0]), row.n_plots, row.n_alive, settings)
        return rows.renamed(only, "project", key)
    area = table.net_area_ha[surveyed]
    if not (np.isfinite(area) & (area > 0)).all():
        return rows.refused(row, rows.AREA_MISSING)
    ratio = _pooled(table, block, stocked, visited)
    if not ratio.df_design[0] > 0:
        return rows.refused(row, rows.TOO_FEW_PLOTS)
    df = np.where(np.isnan(ratio.df_satterthwaite), ratio.df_design, ratio.df_satterthwaite)
    limits = _named(logit_t_limits(ratio, df, settings)[0])
    return rows.filled(row, rows.STRATIFIED_LOGIT_T, float(ratio.value[0]), float(ratio.se[0]), limits)


def _pooled(table: StockingTable, block: Ints, stocked: Ints, visited: Ints) -> RatioEstimates:
    weight = (table.net_area_ha / np.maximum(visited, 1))[block]
    plots = np.ones_like(stocked)
    totals = PlotTotals(np.zeros_like(block), block, stocked, plots, weight)
    return ratio_estimates(totals, Sample(visited, table.is_census.astype(float)), 1, whole=True)

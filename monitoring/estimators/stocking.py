"""Living acceptable trees per hectare, planted and natural apart and together.

>>> from monitoring.estimators.stocking_table import StockingTable
>>> plots = StockingTable.build(
...     block=[0] * 10, area_ha=[1 / 200] * 10, planted=[5, 6, 4, 7, 5, 3, 6, 5, 4, 6], natural=[0] * 10,
...     net_area_ha=[12.0], target_per_ha=[1200.0], labels={"project": ("P",), "block": ("North",)})
>>> row = next(r for r in stocking_estimates(plots) if (r.scope, r.measure) == ("block", "stocking"))
>>> row.value, round(row.se, 1), round(row.lower_decision)
(1020.0, 75.7, 915)
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from monitoring.estimators import rows
from monitoring.estimators.intervals import Limits, student_t
from monitoring.estimators.limits import LIMIT_FIELDS, six_limits
from monitoring.estimators.rows import EstimateRow, EstimateSettings, rounded_row
from monitoring.estimators.stocked_plots import stocked_rows
from monitoring.estimators.stocking_table import StockingTable
from monitoring.estimators.sums import summed
from monitoring.estimators.table import Floats, Ints


def stocking_estimates(
    table: StockingTable, settings: EstimateSettings | None = None
) -> tuple[EstimateRow, ...]:
    """Stocking of every block, of the whole area, and the share of plots that are stocked.

    Notes
    -----
    Within a block: ratio of trees to area with its linearised variance and Student-t limits. Over blocks:
    means weighted by net area, variances added, Satterthwaite degrees of freedom; none if a block lacks its
    area or has a single plot. Over blocks with targets of their own the share of plots stocked is the figure
    to read: a mean density hides the gaps. `stocking_capped` counts no plot above its target.

    References
    ----------
    Cochran (1977), ch. 5–6; caps per plot as in British Columbia silviculture surveys (from memory).
    """
    settings = settings or EstimateSettings()
    both = table.planted + table.natural
    target = table.target_per_ha[table.block] * table.area_ha
    living = {rows.STOCKING: both, rows.STOCKING_PLANTED: table.planted, rows.STOCKING_NATURAL: table.natural}
    if np.isfinite(target).any():
        living[rows.STOCKING_CAPPED] = np.where(np.isfinite(target), np.minimum(both, target), both)
    found: list[EstimateRow] = []
    for measure, counts in living.items():
        found.extend(_density_rows(table, measure, _block_densities(table, counts, settings), settings))
    found.extend(stocked_rows(table, settings))
    return tuple(rounded_row(_told(row, table)) for row in found)


def _told(row: EstimateRow, table: StockingTable) -> EstimateRow:
    """The row, which says so where plots of its blocks had no area to enter with."""
    if row.status != rows.OK or not table.without_area.any():
        return row
    blocks = range(table.without_area.size)
    left_out = {table.label("block", block) for block in blocks if table.without_area[block] > 0}
    if row.scope == "block" and row.key not in left_out:
        return row
    return replace(row, reason=rows.PLOTS_WITHOUT_AREA)


@dataclass(frozen=True, slots=True)
class _Densities:
    """Per block `(n_blocks,)`: trees per hectare, its variance, plots, trees, and plots to the hectare."""

    value: Floats
    variance: Floats
    plots: Ints
    trees: Ints
    plots_per_ha: Floats


def _block_densities(table: StockingTable, living: Ints | Floats, settings: EstimateSettings) -> _Densities:
    n_blocks = table.net_area_ha.size

    area, plots = summed(table.block, table.area_ha, n_blocks), np.bincount(table.block, minlength=n_blocks)
    trees = summed(table.block, living, n_blocks)
    value = np.divide(trees, area, out=np.full(n_blocks, np.nan), where=area > 0)
    squares = summed(table.block, (living - value[table.block] * table.area_ha) ** 2, n_blocks)
    fraction = np.where(settings.finite_population & (table.plots > 0), plots / np.maximum(table.plots, 1), 0)
    correction = np.where(table.is_census, 0, 1 - np.minimum(fraction, 1))
    several = plots > 1
    variance = correction * plots / np.maximum(plots - 1, 1) * squares / np.where(area > 0, area, 1) ** 2
    variance = np.where(several, variance, np.where(table.is_census & (plots > 0), 0.0, np.nan))
    per_ha = plots / np.where(area > 0, area, 1)
    return _Densities(value, variance, plots, np.rint(trees).astype(np.int64), per_ha)


def _density_rows(
    table: StockingTable, measure: str, blocks: _Densities, settings: EstimateSettings
) -> Iterator[EstimateRow]:
    surveyed = np.flatnonzero(blocks.plots > 0)
    yield _project_density(table, measure, blocks, surveyed, settings)
    for block in range(blocks.plots.size):
        yield _block_density(table, measure, blocks, block, settings)


def _block_density(
    table: StockingTable, measure: str, blocks: _Densities, block: int, settings: EstimateSettings
) -> EstimateRow:
    row = _blank("block", table.label("block", block), measure, blocks, np.array([block]), settings)
    if not np.isfinite(blocks.variance[block]):
        return rows.refused(row, rows.ONE_PLOT if blocks.plots[block] else rows.NO_PLOTS)
    method = rows.CENSUS if table.is_census[block] else rows.PLOT_MEAN_T
    df = np.inf if table.is_census[block] else float(blocks.plots[block] - 1)
    value, variance = float(blocks.value[block]), float(blocks.variance[block])
    return _density(row, method, value, variance, df, float(blocks.plots_per_ha[block]), settings)


def _project_density(
    table: StockingTable, measure: str, blocks: _Densities, surveyed: Ints, settings: EstimateSettings
) -> EstimateRow:
    """Weighted by net area; a single block is repeated."""
    row = _blank("project", table.label("project", 0), measure, blocks, surveyed, settings)
    if surveyed.size == 1:
        only = _block_density(table, measure, blocks, int(surveyed[0]), settings)
        return rows.renamed(only, "project", row.key)
    area = table.net_area_ha[surveyed]
    if reason := _why_not(area, blocks.variance[surveyed]):
        return rows.refused(row, reason)
    weight = area / area.sum()
    parts = weight**2 * blocks.variance[surveyed]
    spread = (parts**2 / np.maximum(blocks.plots[surveyed] - 1, 1)).sum()
    df = float(parts.sum() ** 2 / spread) if spread > 0 else np.inf
    value = float((weight * blocks.value[surveyed]).sum())
    per_ha = float((weight * blocks.plots_per_ha[surveyed]).sum())
    return _density(row, rows.STRATIFIED_MEAN_T, value, float(parts.sum()), df, per_ha, settings)


def _why_not(area: Floats, variance: Floats) -> str:
    if not area.size:
        return rows.NO_PLOTS
    if not (np.isfinite(area) & (area > 0)).all():
        return rows.AREA_MISSING
    return "" if np.isfinite(variance).all() else rows.ONE_PLOT


def _blank(
    scope: str, key: str, measure: str, blocks: _Densities, which: Ints, settings: EstimateSettings
) -> EstimateRow:
    trees, plots = int(blocks.trees[which].sum()), int(blocks.plots[which].sum())
    return EstimateRow(
        scope, key, measure, rows.PLOT_MEAN_T, settings.level,
        n_plots=plots, n_trees=trees, n_alive=trees, is_headline=True,
    )  # fmt: skip


def _density(
    row: EstimateRow,
    method: str,
    value: float,
    variance: float,
    df: float,
    plots_per_ha: float,
    settings: EstimateSettings,
) -> EstimateRow:
    se = float(np.sqrt(variance))

    def at_level(level: float) -> Limits:
        if method == rows.CENSUS:
            return np.asarray(value), np.asarray(value)
        if se <= 1e-12 * max(value, 1.0):
            return flat_limits(row.n_trees, row.n_plots, plots_per_ha, level)
        half = student_t(min(df, 1e9), level) * se
        return np.maximum(value - half, 0.0), np.asarray(value + half)

    limits = dict(zip(LIMIT_FIELDS, map(float, six_limits(at_level, settings)), strict=True))
    return rows.filled(row, method, value, se, limits)


def flat_limits(trees: int, plots: int, plots_per_ha: float, level: float) -> Limits:
    """Limits for a density when every plot holds the same number, so that no spread can be seen.

    Poisson limits on the trees counted. With no tree at all the upper limit lets trees stand as clumped as a
    geometric distribution (an assumption of ours).

    >>> low, high = flat_limits(50, 10, 200.0, 0.95)
    >>> round(float(low)), round(float(high))
    (742, 1318)
    """
    tail = (1 - level) / 2
    if trees == 0:
        return np.asarray(0.0), np.asarray((tail ** (-1 / plots) - 1) * plots_per_ha)
    low, high = special.gammaincinv(trees, tail), special.gammaincinv(trees + 1, 1 - tail)
    return np.asarray(low / plots * plots_per_ha), np.asarray(high / plots * plots_per_ha)

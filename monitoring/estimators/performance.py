"""How species, lots, stock types or nurseries did: pooled with their peers, compared within blocks.

Small groups are drawn towards the rest, so that four trees out of four do not beat 170 out of 200; what was
only ever planted in blocks of its own cannot be separated from those blocks, and is not ranked.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from monitoring.estimators import rows
from monitoring.estimators.connection import connected_groups
from monitoring.estimators.contrast import Counts, within_block_contrast
from monitoring.estimators.icc import pooled_icc
from monitoring.estimators.measures import domains_of, measures_of
from monitoring.estimators.pooling import Pooled, pool
from monitoring.estimators.rows import EstimateSettings, rounded
from monitoring.estimators.strata import PlotTotals
from monitoring.estimators.table import CountTable, Floats, Ints

CANNOT_SEPARATE = "cannot_separate"
ALONE = "alone"
COMPARED_SCOPES = ("species", "lot", "stock_type", "nursery")


@dataclass(frozen=True, slots=True)
class PerformanceRow:
    """One species, lot, stock type or nursery beside its peers.

    Attributes
    ----------
    scope, key : what it is.
    raw : living over planted, as counted; None below the minimum of plots.
    pooled, lower, upper : survival drawn towards the peers, with two-sided limits at `level`.
    within_block, within_lower, within_upper : its survival minus that of its peers in the same blocks (for
        lots, stock types and nurseries: of the same species in the same blocks).
    rank_low, rank_high : ranks it holds with probability `level`, 1 the best, inside its group.
    chance_best : probability of being the best of its group.
    group : things that can be compared through shared blocks carry the same number; 0 for none.
    n_plots, n_blocks, n_trees, n_alive : what it rests on.
    status : `ok`, `too_few_plots`, `cannot_separate` (shares no block with a peer), `alone` (no peer at all).
    """

    scope: str
    key: str
    level: float
    raw: float | None = None
    pooled: float | None = None
    lower: float | None = None
    upper: float | None = None
    within_block: float | None = None
    within_lower: float | None = None
    within_upper: float | None = None
    rank_low: int | None = None
    rank_high: int | None = None
    chance_best: float | None = None
    group: int = 0
    n_plots: int = 0
    n_blocks: int = 0
    n_trees: int = 0
    n_alive: int = 0
    status: str = rows.OK


def performance(
    table: CountTable, scope: str, settings: EstimateSettings | None = None
) -> tuple[PerformanceRow, ...]:
    """Compare the things of one scope (`species`, `lot`, `stock_type`, `nursery`) on survival.

    Notes
    -----
    Counts are deflated by a design effect at a correlation pooled over the things (Rao & Scott); the things with
    enough plots then share a beta-binomial whose mean and spread are integrated over, not fixed, so that things
    which look alike still have honest limits. Ranks hold only inside a connected group.

    References
    ----------
    Rao & Scott (1992), Biometrics 48:577; Goldstein & Spiegelhalter (1996), J. R. Statist. Soc. A 159:385.
    """
    if scope not in COMPARED_SCOPES:
        raise ValueError(f"scope must be one of {', '.join(COMPARED_SCOPES)}.")
    settings = settings or EstimateSettings()
    counts, keys = _counts(table, scope)
    plots = _plots_of(counts, len(keys))
    enough = plots >= settings.minimum_plots
    usable = counts.rows(enough[counts.item])
    groups = connected_groups(usable.item, usable.stratum, len(keys))
    block_of_plot = np.zeros(int(table.plot.max(initial=0)) + 1, np.int64)
    block_of_plot[table.plot] = table.block
    found = {
        int(code): replace(
            _base_row(counts, int(code), keys[code], scope, block_of_plot, settings),
            status=_status(bool(enough[code]), int(groups[code]), int(enough.sum())),
        )
        for code in np.flatnonzero(plots)
    }
    compared = {code: row for code, row in found.items() if enough[code]}
    if compared:
        found |= _compared(compared, usable, groups, settings)
    return tuple(found.values())


def _counts(table: CountTable, scope: str) -> tuple[Counts, tuple[str, ...]]:
    """Trees of each thing by plot and by the cell its peers are sought in."""
    domains = domains_of(table, scope)
    survival = next((m for m in measures_of(table) if m.name == rows.SURVIVAL), None)
    if survival is None:
        empty = np.zeros(0, np.int64)
        return Counts(empty, empty, empty, empty, empty), domains.keys
    enters = survival.applies & (domains.code >= 0) & (survival.trees > 0)
    cell = (
        table.block
        if scope == "species"
        else table.block * (int(table.species.max()) + 2) + table.species + 1
    )
    n_cells, n_plots = int(cell.max(initial=0)) + 1, int(table.plot.max(initial=0)) + 1
    lines = (domains.code[enters] * n_cells + cell[enters]) * n_plots + table.plot[enters]
    found, where = np.unique(lines, return_inverse=True)
    alive = np.bincount(where, survival.alive[enters], found.size).astype(np.int64)
    trees = np.bincount(where, survival.trees[enters], found.size).astype(np.int64)
    item, cells = np.divmod(found // n_plots, n_cells)
    return Counts(item, cells, found % n_plots, alive, trees), domains.keys


def _plots_of(counts: Counts, n_items: int) -> Ints:
    n_plots = int(counts.plot.max(initial=0)) + 1
    return np.bincount(np.unique(counts.item * n_plots + counts.plot) // n_plots, minlength=n_items)


def _status(enough: bool, group: int, n_compared: int) -> str:
    if not enough:
        return rows.TOO_FEW_PLOTS
    if group:
        return rows.OK
    return CANNOT_SEPARATE if n_compared > 1 else ALONE


def _base_row(
    counts: Counts, code: int, key: str, scope: str, block_of_plot: Ints, settings: EstimateSettings
) -> PerformanceRow:
    mine = counts.item == code
    plots = np.unique(counts.plot[mine])
    return PerformanceRow(
        scope, key, settings.level, n_plots=plots.size, n_blocks=np.unique(block_of_plot[plots]).size,
        n_trees=int(counts.trees[mine].sum()), n_alive=int(counts.alive[mine].sum()),
    )  # fmt: skip


def _ranks(pooled: Pooled, groups: Ints, level: float) -> tuple[Ints, Ints, Floats]:
    """Lowest and highest rank at a level, and chance of being best, inside each group."""
    low, high, best = np.zeros_like(groups), np.zeros_like(groups), np.zeros(groups.size)
    for group in range(1, int(groups.max(initial=0)) + 1):
        members = np.flatnonzero(groups == group)
        ranks = (-pooled.draws[members]).argsort(axis=0).argsort(axis=0) + 1
        tail = (1 - level) / 2
        low[members] = np.quantile(ranks, tail, axis=1, method="inverted_cdf")
        high[members] = np.quantile(ranks, 1 - tail, axis=1, method="inverted_cdf")
        best[members] = (ranks == 1).mean(axis=1)
    return low, high, best


def _deflated(usable: Counts, n_items: int) -> tuple[Floats, Floats]:
    """Living and counted trees of each thing as effective independent trees."""
    totals = PlotTotals(usable.item, usable.stratum, usable.alive, usable.trees, np.ones(usable.item.size))
    deff = pooled_icc(totals, n_items).deff
    alive, trees = (np.bincount(usable.item, column, n_items) for column in (usable.alive, usable.trees))
    return alive / deff, trees / deff


def _compared(
    rows_of: dict[int, PerformanceRow], usable: Counts, groups: Ints, settings: EstimateSettings
) -> dict[int, PerformanceRow]:
    """The rows with enough plots, filled in."""
    pooled = pool(*_deflated(usable, groups.size))
    low, high, best = _ranks(pooled, groups, settings.level)
    tails = [(1 - settings.level) / 2, (1 + settings.level) / 2]
    filled = {}
    for code, row in rows_of.items():
        lower, upper = np.quantile(pooled.draws[code], tails)
        row = replace(
            row,
            raw=rounded(row.n_alive / row.n_trees),
            pooled=rounded(pooled.mean[code]),
            lower=rounded(lower),
            upper=rounded(upper),
        )
        if row.status == rows.OK:
            ranked: dict[str, Any] = {
                "rank_low": int(low[code]),
                "rank_high": int(high[code]),
                "chance_best": rounded(best[code]),
            }
            row = replace(row, **ranked, **_contrast(usable, code, settings.level), group=int(groups[code]))
        filled[code] = row
    return filled


def _contrast(usable: Counts, code: int, level: float) -> dict[str, Any]:
    contrast = within_block_contrast(usable, code, level)
    return {
        "within_block": rounded(contrast.value),
        "within_lower": rounded(contrast.lower),
        "within_upper": rounded(contrast.upper),
    }

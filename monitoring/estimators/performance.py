"""How species, lots, stock types or nurseries did: pooled with their peers, compared within blocks.

Small groups are drawn towards the rest, so that four trees out of four do not beat 170 out of 200; what was
only ever planted in blocks of its own cannot be separated from those blocks, and is not ranked.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from monitoring.estimators import rows
from monitoring.estimators.connection import connected_groups
from monitoring.estimators.contrast import Cells, Contrasts, Counts, cells_of, within_block_contrasts
from monitoring.estimators.differences import false_discovery
from monitoring.estimators.icc import pooled_icc
from monitoring.estimators.mantel_haenszel import CommonOdds, common_odds, deflated
from monitoring.estimators.peers import Standing, counts_of, lines_of, standing
from monitoring.estimators.pooling import pool
from monitoring.estimators.ranking import ranks
from monitoring.estimators.rows import EstimateSettings, rounded
from monitoring.estimators.strata import PlotTotals
from monitoring.estimators.sums import summed
from monitoring.estimators.table import CountTable, Floats, Ints

CANNOT_SEPARATE = "cannot_separate"
ALONE = "alone"
COMPARED_SCOPES = ("species", "lot", "stock_type", "nursery")
MOST_BLOCKS = 6  # blocks named for a thing


@dataclass(frozen=True, slots=True)
class PerformanceRow:
    """One species, lot, stock type or nursery beside its peers.

    Attributes
    ----------
    scope, key : what it is.
    raw : living over planted, as counted; None below the minimum of plots.
    pooled, lower, upper : survival drawn towards the peers, with two-sided limits at `level`.
    within_block, within_lower, within_upper : its survival minus that of its peers in the same blocks and season
        (for lots, stock types and nurseries: of the same species).
    p_value, p_adjusted : that a difference so large is chance; adjusted for the number of things compared.
    odds, odds_lower, odds_upper : odds of living over those of its peers, a second reckoning.
    rank_low, rank_high : ranks it holds with probability `level`, 1 the best, inside its group and with the
        blocks' own level taken out.
    chance_best : probability of being the best of its group.
    group : things that can be compared through shared blocks carry the same number; 0 for none.
    blocks : names of the blocks it stands in, most of its trees first, `MOST_BLOCKS` at most.
    beside, beside_blocks : where it cannot be separated, the thing to plant it beside and where that stands.
    n_plots, n_blocks, n_trees, n_alive : what it rests on.
    status : `ok`, `too_few_plots`, `cannot_separate` (shares no block and season with a peer), `alone` (no peer at
        all, or none of its species).
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
    p_value: float | None = None
    p_adjusted: float | None = None
    odds: float | None = None
    odds_lower: float | None = None
    odds_upper: float | None = None
    rank_low: int | None = None
    rank_high: int | None = None
    chance_best: float | None = None
    group: int = 0
    blocks: tuple[str, ...] = ()
    beside: str | None = None
    beside_blocks: tuple[str, ...] = ()
    n_plots: int = 0
    n_blocks: int = 0
    n_trees: int = 0
    n_alive: int = 0
    status: str = rows.OK


def performance(
    table: CountTable, scope: str, settings: EstimateSettings | None = None, season: Ints | None = None
) -> tuple[PerformanceRow, ...]:
    """Compare the things of one scope (`species`, `lot`, `stock_type`, `nursery`) on survival.

    Parameters
    ----------
    season : (n_rows,) planting season of each line; things are compared inside blocks and seasons, since trees of
        another age had another time to die.

    Notes
    -----
    Counts are deflated by a design effect at a correlation pooled over the things (Rao & Scott); the things with
    enough plots then share a beta-binomial whose mean and spread are integrated over, not fixed, so that things
    which look alike still have honest limits. Differences and ranks come from within blocks, and only inside a
    connected group; the chance of each difference is adjusted for the number of things compared.

    References
    ----------
    Rao & Scott (1992), Biometrics 48:577; Goldstein & Spiegelhalter (1996), J. R. Statist. Soc. A 159:385;
    Benjamini & Hochberg (1995), J. R. Statist. Soc. B 57:289.
    """
    if scope not in COMPARED_SCOPES:
        raise ValueError(f"scope must be one of {', '.join(COMPARED_SCOPES)}.")
    settings = settings or EstimateSettings()
    lines = lines_of(table, scope, season)
    counts = counts_of(table, lines)
    where = standing(counts, lines)
    enough = where.n_plots >= settings.minimum_plots
    usable = counts.rows(enough[counts.item])
    groups = connected_groups(usable.item, usable.stratum, len(lines.keys))
    found = {
        code: _base_row(table, where, code, PerformanceRow(scope, lines.keys[code], settings.level))
        for code in np.flatnonzero(where.n_plots).tolist()
    }
    for code, row in found.items():
        found[code] = _with_status(row, table, where, code, lines.keys, bool(enough[code]), int(groups[code]))
    compared = [code for code in found if enough[code]]
    if compared:
        found |= _pooled(found, compared, usable, settings)
        found |= _compared(found, usable, groups, settings)
    return tuple(found.values())


def _base_row(table: CountTable, where: Standing, code: int, row: PerformanceRow) -> PerformanceRow:
    return replace(
        row, n_plots=int(where.n_plots[code]), n_blocks=where.n_blocks(code), n_trees=int(where.n_trees[code]),
        n_alive=int(where.n_alive[code]), blocks=_names(table, where.blocks(code, MOST_BLOCKS)),
    )  # fmt: skip


def _names(table: CountTable, blocks: Ints) -> tuple[str, ...]:
    return tuple(table.label("block", int(block)) for block in blocks)


def _with_status(
    row: PerformanceRow,
    table: CountTable,
    where: Standing,
    code: int,
    keys: tuple[str, ...],
    enough: bool,
    group: int,
) -> PerformanceRow:
    """The row with its status, and for one that cannot be separated what would separate it."""
    if not enough:
        return replace(row, status=rows.TOO_FEW_PLOTS)
    if group:
        return replace(row, group=group)
    beside = where.possible_peer(code)
    if beside is None:
        return replace(row, status=ALONE)
    return replace(
        row, status=CANNOT_SEPARATE, beside=keys[beside],
        beside_blocks=_names(table, where.blocks(beside, MOST_BLOCKS)),
    )  # fmt: skip


def _deflated(usable: Counts, n_items: int) -> tuple[Floats, Floats]:
    """Living and counted trees of each thing as effective independent trees."""
    totals = PlotTotals(usable.item, usable.stratum, usable.alive, usable.trees, np.ones(usable.item.size))
    alive, trees = (summed(usable.item, column, n_items) for column in (usable.alive, usable.trees))
    return deflated(alive, trees, pooled_icc(totals, n_items).deff)


def _pooled(
    found: dict[int, PerformanceRow], compared: list[int], usable: Counts, settings: EstimateSettings
) -> dict[int, PerformanceRow]:
    """Survival as counted and drawn towards the peers, of the things with enough plots."""
    alive, trees = _deflated(usable, max(found) + 1)
    pooled = pool(alive[compared], trees[compared])
    lower, upper = (pooled.quantile((1 + side * settings.level) / 2) for side in (-1, 1))
    return {
        code: replace(
            found[code],
            raw=rounded(found[code].n_alive / found[code].n_trees),
            pooled=rounded(pooled.mean[place]),
            lower=rounded(lower[place]),
            upper=rounded(upper[place]),
        )
        for place, code in enumerate(compared)
    }


def _compared(
    found: dict[int, PerformanceRow], usable: Counts, groups: Ints, settings: EstimateSettings
) -> dict[int, PerformanceRow]:
    """Differences, their chance, odds and ranks of the things that share blocks with peers."""
    cells = cells_of(usable)
    contrasts = within_block_contrasts(cells, groups.size, settings.edge_icc)
    ranked = _ranks(usable, groups, contrasts.deff_at(settings.level), settings.level)
    lower, upper = contrasts.limits(settings.level)
    p_values = contrasts.p_values()
    adjusted = false_discovery(p_values)
    filled = {}
    for code in np.flatnonzero(groups).tolist():
        odds = _odds(cells, contrasts, code, settings.level)
        filled[code] = replace(
            found[code], within_block=rounded(contrasts.value[code]), within_lower=rounded(lower[code]),
            within_upper=rounded(upper[code]), p_value=rounded(p_values[code]), p_adjusted=rounded(adjusted[code]),
            odds=rounded(odds.ratio), odds_lower=rounded(odds.lower), odds_upper=rounded(odds.upper), **ranked[code],
        )  # fmt: skip
    return filled


def _odds(cells: Cells, contrasts: Contrasts, code: int, level: float) -> CommonOdds:
    """Common odds ratio over the shared blocks, either side deflated by its own design effect."""
    mine = cells.item == code
    own = deflated(cells.alive[mine], cells.trees[mine], contrasts.own.deff[code])
    peer = deflated(cells.peer_alive[mine], cells.peer_trees[mine], contrasts.peer.deff[code])
    return common_odds(*own, *peer, level)


def _ranks(usable: Counts, groups: Ints, deff: float, level: float) -> dict[int, dict[str, Any]]:
    """Lowest and highest rank, and chance of being best, inside each group; by thing."""
    by_item = {}
    for group in range(1, int(groups.max(initial=0)) + 1):
        members = np.flatnonzero(groups == group)
        mine = usable.rows(groups[usable.item] == group)
        blocks, block = np.unique(mine.stratum, return_inverse=True)
        cell = np.searchsorted(members, mine.item) * blocks.size + block
        alive, trees = (
            summed(cell, column, members.size * blocks.size).reshape(members.size, blocks.size) / deff
            for column in (mine.alive, mine.trees)
        )
        found = ranks(alive, trees, level)
        for place, code in enumerate(members.tolist()):
            by_item[code] = {
                "rank_low": int(found.low[place]), "rank_high": int(found.high[place]),
                "chance_best": rounded(found.best[place]),
            }  # fmt: skip
    return by_item

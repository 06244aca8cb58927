"""Sums the lines of a scope and measure to plots, and gives every plot its expansion weight."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitoring.estimators.measures import Domains, Measure, survival_measure
from monitoring.estimators.rows import EstimateSettings
from monitoring.estimators.strata import PlotTotals, Sample
from monitoring.estimators.sums import distinct, summed
from monitoring.estimators.table import SEED_SPOT, TREE, CountTable, Floats, Ints


@dataclass(frozen=True, slots=True)
class Gathered:
    """Plot totals of one scope and measure, with what the rows must say; arrays `(n_domains,)`.

    Attributes
    ----------
    totals : plot × domain sums with weights.
    first_block : a block of the domain, the only one where `several` is False; −1 for none.
    several : the domain holds trees in more than one block.
    weightless : several blocks, and at least one lacks the chosen weight.
    by_plots : weighted by `block_plots / n_h` rather than by trees planted.
    uneven : plots of the domain carry different weights within a block.
    n_flagged, n_removed : count lines flagged, trees removed on purpose.
    """

    totals: PlotTotals
    first_block: Ints
    several: NDArray[np.bool_]
    weightless: NDArray[np.bool_]
    by_plots: NDArray[np.bool_]
    uneven: NDArray[np.bool_]
    n_flagged: Ints
    n_removed: Ints


def sample_of(
    table: CountTable, settings: EstimateSettings, outside: NDArray[np.bool_] | None = None
) -> Sample:
    """Plots visited in each block and the sampled fraction that the settings let count.

    Lines `outside` `(n_rows,)` are of plots that are no part of the sample of a measure.
    """
    blocks_of_plots = _block_of_each_plot(table, outside)
    visited = np.bincount(blocks_of_plots, minlength=table.n_blocks)
    known = table.blocks.plots > 0
    fraction = np.where(known & settings.finite_population, visited / np.maximum(table.blocks.plots, 1), 0.0)
    return Sample(visited, np.where(table.blocks.is_census, 1.0, np.minimum(fraction, 1.0)))


class PlotIndexes:
    """Where lines stand among the plot × domain pairs of one scope; found once for measures of the same lines."""

    def __init__(self, table: CountTable, domains: Domains) -> None:
        self._table, self.domains = table, domains
        self._lines: NDArray[np.bool_] | None = None

    def totals(self, measure: Measure, lines: NDArray[np.bool_]) -> PlotTotals:
        """Integer sums by domain and plot, in the order of both, with the weight of each plot."""
        if self._lines is None or not np.array_equal(self._lines, lines):
            self._index(lines)
        alive = summed(self._where, measure.alive[lines], self._pairs.size).astype(np.int64)
        trees = summed(self._where, measure.trees[lines], self._pairs.size).astype(np.int64)
        return PlotTotals(self._pairs // self._n_plots, self._block, alive, trees, self._weight)

    def _index(self, lines: NDArray[np.bool_]) -> None:
        table, self._lines = self._table, lines
        self._n_plots = int(table.plot.max(initial=0)) + 1
        self._pairs, where = distinct(self.domains.code[lines] * self._n_plots + table.plot[lines])
        self._where = where
        self._block, self._weight = np.zeros(self._pairs.size, np.int64), np.ones(self._pairs.size)
        self._block[where], self._weight[where] = table.block[lines], table.plot_weight[lines]


def gather(
    table: CountTable,
    domains: Domains,
    measure: Measure,
    flagged: NDArray[np.bool_],
    visited: Ints,
    indexes: PlotIndexes | None = None,
) -> Gathered:
    """Sum a measure to plot × domain and choose one weight rule for each pooled figure.

    `indexes` of the same table and domains spares finding the plots again for a second measure.
    """
    n_domains = len(domains.keys)
    enters = measure.applies & (domains.code >= 0)
    totals = (indexes or PlotIndexes(table, domains)).totals(measure, enters & (measure.trees > 0))
    plot_weight = totals.weight
    first, several = _blocks_of_domains(totals, n_domains, table.n_blocks)
    by_planted, by_plots = _block_weights(table, measure, visited)
    lacks_planted = _any(totals, ~np.isfinite(by_planted)[totals.block], n_domains)
    lacks_plots = _any(totals, ~np.isfinite(by_plots)[totals.block], n_domains)
    use_plots = several & lacks_planted & ~lacks_plots
    block_weight = np.where(use_plots[totals.domain], by_plots[totals.block], by_planted[totals.block])
    weightless = several & lacks_planted & lacks_plots
    pooled = (several & ~weightless)[totals.domain]
    weight = plot_weight * np.where(pooled, block_weight, 1.0)
    code = domains.code[enters]
    return Gathered(
        totals=PlotTotals(totals.domain, totals.block, totals.alive, totals.trees, weight),
        first_block=first,
        several=several,
        weightless=weightless,
        by_plots=use_plots,
        uneven=_uneven(totals, plot_weight, n_domains),
        n_flagged=np.bincount(code, flagged[enters], n_domains).astype(np.int64),
        n_removed=np.bincount(code, table.removed[enters], n_domains).astype(np.int64),
    )


def outside_sample(table: CountTable, measure: Measure) -> NDArray[np.bool_] | None:
    """Lines `(n_rows,)` of plots of which nobody knows how many trees of the measure were planted; None without any.

    A plot that holds no planted tree is a zero in the sample. A plot with living trees and no baseline, or with
    a baseline of another source, is not: how many were planted there is not known.
    """
    tree = table.unit == TREE
    other = tree & ~measure.applies & (table.planted > 0)
    bare = tree & (table.planted == 0) & (table.alive > 0)
    if measure.unit != TREE or not (other | bare).any():
        return None
    n_plots = int(table.plot.max(initial=0)) + 1
    held = np.bincount(table.plot, measure.applies & (table.planted > 0), n_plots) > 0
    unknown = np.bincount(table.plot, other | bare, n_plots) > 0
    return (unknown & ~held)[table.plot]


def in_sample(table: CountTable) -> NDArray[np.bool_]:
    """Lines `(n_rows,)` of the plots that are part of the sample of survival."""
    outside = outside_sample(table, survival_measure(table))
    return np.ones(table.block.size, bool) if outside is None else ~outside


def _block_of_each_plot(table: CountTable, outside: NDArray[np.bool_] | None) -> Ints:
    inside = slice(None) if outside is None else ~outside
    plots, where = distinct(table.plot[inside])
    block = np.zeros(plots.size, np.int64)
    block[where] = table.block[inside]
    return block


def _blocks_of_domains(totals: PlotTotals, n_domains: int, n_blocks: int) -> tuple[Ints, NDArray[np.bool_]]:
    low, high = np.full(n_domains, n_blocks), np.full(n_domains, -1)
    np.minimum.at(low, totals.domain, totals.block)
    np.maximum.at(high, totals.domain, totals.block)
    return np.where(high >= 0, low, -1), high > low


def _block_weights(table: CountTable, measure: Measure, visited: Ints) -> tuple[Floats, Floats]:
    """Trees planted in the block per tree planted in its plots, and plots of the block per plot visited."""
    facts = {TREE: table.blocks.planted, SEED_SPOT: table.blocks.planted_spots}.get(measure.unit)
    sampled = np.bincount(
        table.block, np.where(measure.applies, table.plot_weight * table.planted, 0), table.n_blocks
    )
    unknown = np.full(table.n_blocks, np.nan)
    by_planted = unknown.copy()
    if facts is not None:
        np.divide(facts, sampled, out=by_planted, where=(facts > 0) & (sampled > 0))
    by_plots = np.divide(
        table.blocks.plots, visited, out=unknown, where=(table.blocks.plots > 0) & (visited > 0)
    )
    return by_planted, by_plots


def _any(totals: PlotTotals, condition: NDArray[np.bool_], n_domains: int) -> NDArray[np.bool_]:
    return np.bincount(totals.domain, condition, n_domains) > 0


def _uneven(totals: PlotTotals, plot_weight: Floats, n_domains: int) -> NDArray[np.bool_]:
    low, high = np.full(n_domains, np.inf), np.full(n_domains, -np.inf)
    np.minimum.at(low, totals.domain, plot_weight)
    np.maximum.at(high, totals.domain, plot_weight)
    return high > low

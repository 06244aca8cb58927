"""Ratio of totals over plots in blocks: one block, or several pooled with expansion weights.

Everything is vectorised over *domains* (a project, each block, each species …): a domain is a set of plot
totals, its strata are the blocks it touches. Plots visited without the domain count as zeros.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitoring.estimators.sums import distinct, summed
from monitoring.estimators.table import Floats, Ints


@dataclass(frozen=True, slots=True)
class PlotTotals:
    """Counts summed to plot × domain, ordered by domain and plot; each `(n_rows,)`.

    Attributes
    ----------
    domain, block : codes.
    alive, trees : totals of the domain in the plot, `0 <= alive <= trees`.
    weight : expansion weight of the plot (trees of the block it stands for, or 1 in a single block).
    """

    domain: Ints
    block: Ints
    alive: Ints
    trees: Ints
    weight: Floats


@dataclass(frozen=True, slots=True)
class Sample:
    """How the blocks were sampled; each `(n_blocks,)`.

    Attributes
    ----------
    visited : plots visited in the block, empty ones included. [plots]
    fraction : share of the block's plots that was visited, for the finite-population correction; 0 for
        none, 1 for a whole-block census, which then has no sampling error.
    """

    visited: Ints
    fraction: Floats


@dataclass(frozen=True, slots=True)
class RatioEstimates:
    """Linearised ratio estimates, one per domain; each `(n_domains,)`.

    Attributes
    ----------
    value, se, deff : the ratio, its standard error, and variance / [p(1−p)/(m−1)].
    df_satterthwaite, df_design : degrees of freedom; design = plots minus blocks.
    n_held, n_blocks : plots holding trees of the domain; blocks holding them.
    n_trees, n_alive : trees and living trees, unweighted.
    n_lonely : blocks of the domain with a single visited plot.
    trees_effective, mean_plot : for the edge rule, trees after unequal weighting and sum m² / sum m.
    """

    value: Floats
    se: Floats
    deff: Floats
    df_satterthwaite: Floats
    df_design: Floats
    n_held: Ints
    n_blocks: Ints
    n_trees: Ints
    n_alive: Ints
    n_lonely: Ints
    trees_effective: Floats
    mean_plot: Floats


class LonelyBlockError(ValueError):
    """A block with a single plot, under the rule `fail`."""


def ratio_estimates(
    totals: PlotTotals,
    sample: Sample,
    n_domains: int,
    *,
    whole: bool = False,
    lonely: str = "adjust",
    about_own_block: bool = False,
) -> RatioEstimates:
    """Combined ratio of each domain with its linearised standard error.

    Parameters
    ----------
    totals, sample : plot totals and how the blocks were sampled.
    n_domains : int
    whole : bool
        True when a domain is everything in its blocks, so that visited empty plots count in the degrees of
        freedom; False for species, lots and the like, whose degrees of freedom are the plots holding them
        minus the blocks holding them.
    lonely : {"adjust", "average", "certainty", "fail"}
        What a block with one plot adds to the variance: its squared residual (conservative), the mean of the
        other blocks, nothing, or an error.
    about_own_block : bool
        Take residuals about each block's own ratio (separate ratio) instead of the pooled one; gives a lonely
        block no variance.

    Raises
    ------
    LonelyBlockError
        With `lonely="fail"` and a single-plot block.

    Notes
    -----
    With e = w(y − p m) about the pooled ratio p, each block adds (1 − f) n/(n−1) Σ(e − ē)², over *all* plots
    visited in it. Satterthwaite: (Σ v)² / Σ v²/(n−1), a lonely block counting with one degree of freedom.

    References
    ----------
    Cochran (1977), Sampling Techniques, 3rd ed., ch. 6; Rust & Rao (1996), Stat. Meth. Med. Res. 5:283;
    reproduces R survey 4.1-1 `svyratio` and `degf`.
    """
    wy = _by_domain(totals, totals.weight * totals.alive, n_domains)
    wm = _by_domain(totals, totals.weight * totals.trees, n_domains)
    value = np.divide(wy, wm, out=np.full(n_domains, np.nan), where=wm > 0)
    strata = _Strata.of(totals, sample, value, about_own_block)
    variance, df_satterthwaite = _variance(strata, n_domains, lonely, whole)
    variance = np.where(wm > 0, variance / np.where(wm > 0, wm, 1) ** 2, np.nan)
    trees, held = _integers(totals, totals.trees, n_domains), _integers(totals, totals.trees > 0, n_domains)
    plots = np.where(whole, strata.total(strata.visited, n_domains), held)
    blocks = strata.total(strata.held > 0, n_domains)
    binomial = np.where(trees > 1, value * (1 - value) / np.maximum(trees - 1, 1), 0)
    effective, mean_plot = _edge_numbers(totals, wm, n_domains)
    return RatioEstimates(
        value=value,
        se=np.sqrt(variance),
        deff=np.divide(variance, binomial, out=np.full(n_domains, np.nan), where=binomial > 0),
        df_satterthwaite=df_satterthwaite,
        df_design=plots - np.where(whole, strata.total(strata.visited > 0, n_domains), blocks).astype(float),
        n_held=held,
        n_blocks=blocks.astype(np.int64),
        n_trees=trees,
        n_alive=_integers(totals, totals.alive, n_domains),
        n_lonely=strata.total((strata.visited == 1) & (strata.fraction < 1), n_domains).astype(np.int64),
        trees_effective=effective,
        mean_plot=mean_plot,
    )


@dataclass(frozen=True, slots=True)
class _Strata:
    """One entry per domain × block that the domain touches."""

    domain: Ints
    visited: Ints
    held: Ints
    fraction: Floats
    squares: Floats  # Σ(e − ē)² over all visited plots
    uncentred: Floats  # (Σe)², what a lonely block adds

    @classmethod
    def of(cls, totals: PlotTotals, sample: Sample, value: Floats, own: bool) -> "_Strata":
        n_blocks = sample.visited.size
        pairs, stratum = distinct(totals.domain * n_blocks + totals.block)
        block = pairs % n_blocks
        visited = sample.visited[block]
        ratio = _own_ratio(totals, stratum, pairs.size) if own else np.nan_to_num(value[totals.domain])
        residual = totals.weight * (totals.alive - ratio * totals.trees)
        total = summed(stratum, residual, pairs.size)
        mean = total / visited
        within = summed(stratum, (residual - mean[stratum]) ** 2, pairs.size)
        absent = visited - np.bincount(stratum, minlength=pairs.size)  # plots without the domain: zeros
        return cls(
            domain=pairs // n_blocks,
            visited=visited,
            held=summed(stratum, totals.trees > 0, pairs.size).astype(np.int64),
            fraction=sample.fraction[block],
            squares=within + absent * mean**2,
            uncentred=total**2,
        )

    def total(self, values: NDArray, n_domains: int) -> Floats:
        return summed(self.domain, values, n_domains)


def _own_ratio(totals: PlotTotals, stratum: Ints, n_strata: int) -> Floats:
    trees = summed(stratum, totals.weight * totals.trees, n_strata)
    alive = summed(stratum, totals.weight * totals.alive, n_strata)
    return np.divide(alive, trees, out=np.zeros(n_strata), where=trees > 0)[stratum]


def _variance(strata: _Strata, n_domains: int, lonely: str, whole: bool) -> tuple[Floats, Floats]:
    single = strata.visited == 1
    alone = single & (strata.fraction < 1)
    if lonely == "fail" and alone.any():
        raise LonelyBlockError("A block has only one plot, so its variance cannot be estimated.")
    correction = np.maximum(1 - strata.fraction, 0)
    factor = correction * np.where(single, 0, strata.visited / np.maximum(strata.visited - 1, 1))
    parts = factor * strata.squares
    if lonely == "adjust":
        parts = np.where(alone, correction * strata.uncentred, parts)
    variance = strata.total(parts, n_domains)
    if lonely == "average":
        variance = variance * _inflation(strata, alone, n_domains)
    df = np.maximum((strata.visited if whole else strata.held) - 1, 1)
    spread = strata.total(parts**2 / df, n_domains)
    squared = strata.total(parts, n_domains) ** 2
    return variance, np.divide(squared, spread, out=np.full(n_domains, np.nan), where=spread > 0)


def _inflation(strata: _Strata, alone: NDArray[np.bool_], n_domains: int) -> Floats:
    """Blocks over blocks with a variance of their own: gives lonely ones the mean of the others."""
    count = strata.total(np.ones(alone.size), n_domains)
    usable = strata.total(~alone, n_domains)
    return np.divide(count, usable, out=np.full(n_domains, np.nan), where=usable > 0)


def _edge_numbers(totals: PlotTotals, wm: Floats, n_domains: int) -> tuple[Floats, Floats]:
    """Effective trees under unequal weights (Kish), and the tree-weighted mean plot."""
    w2m = _by_domain(totals, totals.weight**2 * totals.trees, n_domains)
    w2m2 = _by_domain(totals, totals.weight**2 * totals.trees**2, n_domains)
    safe = np.where(w2m > 0, w2m, 1)
    return wm**2 / safe, w2m2 / safe


def _by_domain(totals: PlotTotals, values: NDArray, n_domains: int) -> Floats:
    return summed(totals.domain, values, n_domains)


def _integers(totals: PlotTotals, values: NDArray, n_domains: int) -> Ints:
    return summed(totals.domain, values, n_domains).astype(np.int64)

"""Plots that stand far from the other plots of their block: a doubt to look into, never a reason to drop one.

The rule is stated so that anybody can repeat it: a plot is far when its living share, on the logit scale, lies
more than 3.5 robust deviations from the median plot of its block, in a block of at least 8 plots with trees.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from monitoring.estimators.table import COUNTED, TREE, CountTable, Floats, Ints

FAR = 3.5
LEAST_PLOTS = 8
NORMAL_MAD = 1.4826  # a normal spread is this many median absolute deviations


@dataclass(frozen=True, slots=True)
class PlotShares:
    """Living and assessed planted trees of each plot that has any; each `(n_plots,)`."""

    plot: Ints
    block: Ints
    alive: Ints
    trees: Ints


def plot_shares(table: CountTable) -> PlotShares:
    """Sum the planted trees of a table to plots, alive capped at what was planted."""
    base = np.maximum(table.planted - table.not_assessed - table.removed, 0)
    enters = (table.unit == TREE) & (table.baseline == COUNTED) & (base > 0)
    plots, where = np.unique(table.plot[enters], return_inverse=True)
    block = np.zeros(plots.size, np.int64)
    block[where] = table.block[enters]
    alive = np.bincount(where, np.minimum(table.alive, base)[enters], plots.size).astype(np.int64)
    return PlotShares(plots, block, alive, np.bincount(where, base[enters], plots.size).astype(np.int64))


@dataclass(frozen=True, slots=True)
class Distances:
    """How far each plot lies from its block; each `(n_plots,)`.

    Attributes
    ----------
    far : the plot is far from the others.
    deviations : robust deviations from the median plot, negative below it; NaN in a block of too few plots.
    usual : living share of the median plot of the block.
    """

    far: NDArray[np.bool_]
    deviations: Floats
    usual: Floats


def distances(block: ArrayLike, alive: ArrayLike, trees: ArrayLike) -> Distances:
    """Robust distance of each plot from the median plot of its block.

    Parameters
    ----------
    block : `(n_plots,)` codes from 0.
    alive, trees : `(n_plots,)` living and assessed trees, `0 <= alive <= trees`, `trees > 0`.

    Notes
    -----
    Logits of (alive + ½)/(trees + 1). One deviation is the larger of 1.4826 × the median absolute deviation of the
    block and what chance alone gives a plot of so many trees at the usual share: blocks in which most plots agree
    exactly would otherwise call every other plot far.

    References
    ----------
    The cut at 3.5 deviations: Iglewicz & Hoaglin (1993), How to Detect and Handle Outliers (from memory).

    >>> found = distances([0] * 9, [18, 17, 19, 18, 16, 18, 17, 19, 2], [20] * 9)
    >>> found.far.tolist().index(True), int(found.far.sum())
    (8, 1)
    """
    blocks, living = np.asarray(block, np.int64), np.asarray(alive, float)
    total = np.asarray(trees, float)
    logits = np.log((living + 0.5) / (total - living + 0.5))
    n_blocks = int(blocks.max(initial=-1)) + 1
    middle = medians(blocks, logits, n_blocks)[blocks]
    spread = NORMAL_MAD * medians(blocks, np.abs(logits - middle), n_blocks)[blocks]
    usual = special.expit(middle)
    chance = np.sqrt(1 / (total * usual + 0.5) + 1 / (total * (1 - usual) + 0.5))
    deviations = (logits - middle) / np.maximum(spread, chance)
    enough = np.bincount(blocks, minlength=n_blocks)[blocks] >= LEAST_PLOTS
    deviations = np.where(enough, deviations, np.nan)
    return Distances(np.abs(np.nan_to_num(deviations)) > FAR, deviations, usual)


def medians(group: Ints, values: Floats, n_groups: int) -> Floats:
    """Median of each group; NaN for a group without values.

    >>> medians(np.array([1, 0, 1, 1]), np.array([5.0, 2.0, 1.0, 3.0]), 2).tolist()
    [2.0, 3.0]
    """
    order = np.lexsort((values, group))
    size = np.bincount(group, minlength=n_groups)
    first = np.concatenate(([0], np.cumsum(size)[:-1])) if n_groups else np.empty(0, np.int64)
    ordered, there = np.append(values[order], np.nan), size > 0
    low = np.where(there, first + (size - 1) // 2, values.size)
    high = np.where(there, first + size // 2, values.size)
    return (ordered[low] + ordered[high]) / 2

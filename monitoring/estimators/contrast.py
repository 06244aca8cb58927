"""Survival of one thing minus that of its peers in the same blocks."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitoring.estimators.intervals import student_t
from monitoring.estimators.table import Floats, Ints


@dataclass(frozen=True, slots=True)
class Contrast:
    """Difference in survival within blocks, with two-sided limits; NaN where none can be had. [share]"""

    value: float
    lower: float
    upper: float


@dataclass(frozen=True, slots=True)
class Counts:
    """Counts of things on plots, one row per thing × plot × block; each `(n_rows,)` of int."""

    item: Ints
    stratum: Ints
    plot: Ints
    alive: Ints
    trees: Ints

    def rows(self, which: NDArray[np.bool_]) -> "Counts":
        """The rows chosen."""
        return Counts(*(getattr(self, name)[which] for name in self.__slots__))


def within_block_contrast(counts: Counts, item: int, level: float = 0.95) -> Contrast:
    """Weighted mean over blocks of (survival of the thing − survival of its peers there).

    Notes
    -----
    Weights are m₁m₂/(m₁+m₂), as in Mantel–Haenszel. The variance is linearised over plots within each block, so
    that trees of a plot do not count as independent; Satterthwaite degrees of freedom.

    References
    ----------
    Mantel & Haenszel (1959), J. Nat. Cancer Inst. 22:719; Cochran (1977), ch. 5A and 6.
    """
    parts = [part for block in np.unique(counts.stratum[counts.item == item])
             if (part := _block_part(counts.rows(counts.stratum == block), item)) is not None]  # fmt: skip
    if not parts:
        return Contrast(np.nan, np.nan, np.nan)
    difference, variance, weight, df = (np.array(column) for column in zip(*parts, strict=True))
    share = weight / weight.sum()
    value, pieces = float((share * difference).sum()), share**2 * variance
    if pieces.sum() <= 0:  # no spread seen: no honest limits
        return Contrast(value, -1.0, 1.0)
    degrees = pieces.sum() ** 2 / (pieces**2 / df).sum()
    half = float(student_t(degrees, level) * np.sqrt(pieces.sum()))
    return Contrast(value, max(value - half, -1.0), min(value + half, 1.0))


def _block_part(block: Counts, item: int) -> tuple[float, float, float, float] | None:
    """Difference, its variance, weight and degrees of freedom in one block; None without peers or plots."""
    plots, where = np.unique(block.plot, return_inverse=True)
    sides = [
        _side(block, where, plots.size, block.item == item),
        _side(block, where, plots.size, block.item != item),
    ]
    (own, own_residual, own_trees), (peer, peer_residual, peer_trees) = sides
    if not own_trees or not peer_trees or plots.size < 2:
        return None
    residual = own_residual - peer_residual
    variance = plots.size / (plots.size - 1) * float(((residual - residual.mean()) ** 2).sum())
    weight = own_trees * peer_trees / (own_trees + peer_trees)
    return own - peer, variance, weight, float(plots.size - 1)


def _side(block: Counts, where: Ints, n_plots: int, mine: NDArray[np.bool_]) -> tuple[float, Floats, float]:
    """Share, linearised plot residuals and trees of one side of the comparison."""
    alive = np.bincount(where[mine], block.alive[mine], n_plots)
    trees = np.bincount(where[mine], block.trees[mine], n_plots)
    whole = float(trees.sum())
    share = float(alive.sum()) / whole if whole else np.nan
    return share, (alive - share * trees) / whole if whole else np.zeros(n_plots), whole

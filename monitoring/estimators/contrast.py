"""Survival of each thing minus that of its peers in the same blocks, all things at once."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from monitoring.estimators.differences import mover
from monitoring.estimators.intervals import Limits, edge_trees, logit_t_with_edge, student_t
from monitoring.estimators.sums import distinct, summed
from monitoring.estimators.table import Floats, Ints

BISECTIONS = 36
SMALLEST_P = 1e-9


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


@dataclass(frozen=True, slots=True)
class Cells:
    """A thing in a block beside its peers there; one entry per pair that both sides hold, each `(n_cells,)`.

    Attributes
    ----------
    item, stratum : codes.
    alive, trees, peer_alive, peer_trees : counts of either side. [trees]
    weight : m₁m₂/(m₁+m₂), as in Mantel–Haenszel.
    variance, peer_variance, covariance : of the two shares, linearised over plots; NaN where a side has one plot.
    df, peer_df : plots of either side less one.
    squares, peer_squares : sum of m² over the plots of either side.
    """

    item: Ints
    stratum: Ints
    alive: Floats
    trees: Floats
    peer_alive: Floats
    peer_trees: Floats
    variance: Floats
    peer_variance: Floats
    covariance: Floats
    df: Floats
    peer_df: Floats
    squares: Floats
    peer_squares: Floats

    @property
    def weight(self) -> Floats:
        return self.trees * self.peer_trees / (self.trees + self.peer_trees)

    @property
    def share(self) -> Floats:
        return self.alive / self.trees

    @property
    def peer_share(self) -> Floats:
        return self.peer_alive / self.peer_trees


@dataclass(frozen=True, slots=True)
class Side:
    """One side of every comparison over its blocks; each `(n_items,)`, NaN without a shared block."""

    value: Floats
    variance: Floats
    binomial: Floats  # variance if trees were independent
    df: Floats
    trees_effective: Floats

    @property
    def deff(self) -> Floats:
        """`(n_items,)` design effect; NaN where nothing or everything lives."""
        return np.divide(
            self.variance, self.binomial, out=np.full(self.value.shape, np.nan), where=self.binomial > 0
        )

    def limits(self, level: ArrayLike) -> Limits:
        """Logit-t limits with the edge rule; none (0 to 1) where the variance cannot be had."""
        with np.errstate(invalid="ignore"):
            lower, upper = logit_t_with_edge(
                self.value, np.sqrt(self.variance), self.df, self.trees_effective, level
            )
        unknown = np.isnan(self.variance) & ~np.isnan(self.value)
        return np.where(unknown, 0.0, lower), np.where(unknown, 1.0, upper)


@dataclass(frozen=True, slots=True)
class Contrasts:
    """Difference in survival within blocks of every thing; NaN where it shares no block with a peer.

    Attributes
    ----------
    own, peer : the two shares over the same blocks with the same weights.
    covariance : (n_items,) of the two, from plots that hold both.
    """

    own: Side
    peer: Side
    covariance: Floats

    @property
    def value(self) -> Floats:
        """`(n_items,)` own minus peers. [share]"""
        return self.own.value - self.peer.value

    @property
    def variance(self) -> Floats:
        """`(n_items,)` of the difference."""
        return np.maximum(self.own.variance + self.peer.variance - 2 * self.covariance, 0)

    @property
    def pairing(self) -> Floats:
        """`(n_items,)` variance of the difference over the sum of both; 1 where no variance is seen or known."""
        both = self.own.variance + self.peer.variance
        with np.errstate(invalid="ignore"):
            return np.divide(self.variance, both, out=np.ones(both.size), where=both > 0)

    @property
    def deff(self) -> float:
        """Design effect of the comparisons, pooled over things: theirs over that of independent trees, at least 1."""
        known = ~np.isnan(self.variance)
        binomial = (self.own.binomial + self.peer.binomial)[known].sum()
        return max(float(self.variance[known].sum() / binomial), 1.0) if binomial > 0 else 1.0

    def deff_at(self, level: float) -> float:
        """The same, raised for what few plots leave unknown of it, as Student's t does for limits at a level."""
        df = np.fmin(self.own.df, self.peer.df)[self.variance > 0]
        if not df.size:
            return self.deff
        few = float(student_t(max(float(np.median(df)), 1.0), level) / special.ndtri((1 + level) / 2))
        return self.deff * few**2

    def limits(self, level: ArrayLike = 0.95) -> Limits:
        """Two-sided limits, recovered from those of either side."""
        return mover(
            self.own.value, self.own.limits(level), self.peer.value, self.peer.limits(level), self.pairing
        )

    def p_values(self) -> Floats:
        """`(n_items,)`: one minus the level at which the limits first reach 0."""
        low, high = np.full(self.value.shape, np.log(SMALLEST_P)), np.zeros(self.value.shape)
        for _ in range(BISECTIONS):
            middle = (low + high) / 2
            apart = self._excludes_none(np.exp(middle))
            low, high = np.where(apart, low, middle), np.where(apart, middle, high)
        return np.where(np.isnan(self.value), np.nan, np.exp(high))

    def _excludes_none(self, alpha: Floats) -> NDArray[np.bool_]:
        lower, upper = self.limits(1 - alpha)
        return (lower > 0) | (upper < 0)


def within_block_contrasts(cells: Cells, n_items: int, edge_icc: float = 0.1) -> Contrasts:
    """Weighted mean over blocks of (survival of the thing − survival of its peers there), for every thing.

    Notes
    -----
    Weights as in Mantel–Haenszel. Each side has logit-t limits from its plots, so that trees of a plot do not
    count as independent, and the difference takes its limits from both (MOVER). Blocks in which a side has a
    single plot have no variance of their own; they take it from how the blocks differ among themselves.

    References
    ----------
    Mantel & Haenszel (1959), J. Nat. Cancer Inst. 22:719; Zou & Donner (2008), Statistics in Medicine 27:1693.

    Examples
    --------
    >>> plots = np.arange(8)
    >>> cells = cells_of(Counts(plots % 2, plots * 0, plots, np.array([9, 5, 8, 7, 9, 4, 10, 6]), plots * 0 + 10))
    >>> found = within_block_contrasts(cells, 2)
    >>> found.value.round(2).tolist(), (found.limits()[0] > 0).tolist()
    ([0.35, -0.35], [True, False])
    """
    total = summed(cells.item, cells.weight, n_items)[cells.item]
    weight = cells.weight / total
    lonely = np.isnan(cells.variance) | np.isnan(cells.peer_variance)
    own = _side(cells, weight, lonely, "", n_items, edge_icc)
    peer = _side(cells, weight, lonely, "peer_", n_items, edge_icc)
    both = summed(cells.item, np.where(lonely, 0, weight**2 * np.nan_to_num(cells.covariance)), n_items)
    both += _between(cells, weight, lonely, cells.share, cells.peer_share, n_items)[0]
    return Contrasts(own, peer, both)


def _side(
    cells: Cells, weight: Floats, lonely: NDArray[np.bool_], prefix: str, n_items: int, edge_icc: float
) -> Side:
    share, trees, squares, variance, df = (
        getattr(cells, prefix + name) for name in ("share", "trees", "squares", "variance", "df")
    )
    item = cells.item
    held = summed(item, np.ones(item.size), n_items) > 0
    parts = np.where(lonely, 0, weight**2 * variance)
    between, blocks = _between(cells, weight, lonely, share, share, n_items)
    whole = np.where(held, summed(item, parts, n_items) + between, np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        spread = summed(item, np.where(parts > 0, parts**2 / df, 0), n_items) + np.where(
            between > 0, between**2 / np.maximum(blocks - 1, 1), 0
        )
        degrees = np.where(spread > 0, whole**2 / spread, summed(item, np.where(lonely, 0, df), n_items))
        kish = 1 / summed(
            item, weight**2 / trees, n_items
        )  # trees that give the weighted share its precision
    mean_plot = summed(item, squares, n_items) / np.maximum(summed(item, trees, n_items), 1)
    value = np.where(held, summed(item, weight * share, n_items), np.nan)
    binomial = summed(item, weight**2 * share * (1 - share) / trees, n_items)
    return Side(value, whole, binomial, degrees, edge_trees(kish, mean_plot, edge_icc))


def _between(
    cells: Cells, weight: Floats, lonely: NDArray[np.bool_], one: Floats, other: Floats, n_items: int
) -> tuple[Floats, Floats]:
    """Covariance of two sides from the spread among lonely blocks, and their number.

    A single lonely block is held against all blocks of the comparison; NaN if it is the only one.
    """
    item = cells.item
    number, every = summed(item, lonely, n_items), summed(item, np.ones(item.size), n_items)
    peers = np.where((number == 1)[item] | lonely, weight, 0)
    mass = np.maximum(summed(item, peers, n_items), 1e-300)
    means = [summed(item, peers * values, n_items) / mass for values in (one, other)]
    products = weight**2 * (one - means[0][item]) * (other - means[1][item])
    factor = np.where(number > 1, number / np.maximum(number - 1, 1), np.where(every > 1, 1.0, np.nan))
    spread = factor * summed(item, np.where(lonely, products, 0), n_items)
    return np.where(number > 0, spread, 0.0), number


def cells_of(counts: Counts) -> Cells:
    """Every thing beside its peers in every block that both stand in.

    Notes
    -----
    The squares over a block's plots are summed once; a thing's own plots are then taken out, so the work grows
    with the rows and not with things × plots.
    """
    at = _Places.of(counts)
    alive, trees = at.by_cell(counts.alive), at.by_cell(counts.trees)
    peer_alive, peer_trees = at.by_home(at.plot_alive) - alive, at.by_home(at.plot_trees) - trees
    share, peer_share = _ratio(alive, trees), _ratio(peer_alive, peer_trees)
    rest_alive, rest_trees = at.plot_alive[at.plot] - counts.alive, at.plot_trees[at.plot] - counts.trees
    own = counts.alive - share[at.cell] * counts.trees
    rest = rest_alive - peer_share[at.cell] * rest_trees
    everyone = at.plot_alive[at.plot] - peer_share[at.cell] * at.plot_trees[at.plot]
    peer_squared = at.squared_about(peer_share) + at.by_cell(rest**2 - everyone**2)
    plots, both = at.by_cell(counts.trees > 0), at.by_cell((counts.trees > 0) & (rest_trees > 0))
    peer_plots = at.by_home(at.plot_trees > 0) - plots + both
    made: dict[str, Any] = {
        "item": at.item, "stratum": at.stratum,
        "alive": alive, "trees": trees, "peer_alive": peer_alive, "peer_trees": peer_trees,
        "variance": _variance(plots, at.by_cell(own**2), trees**2),
        "peer_variance": _variance(peer_plots, np.maximum(peer_squared, 0), peer_trees**2),
        "covariance": _variance(both, at.by_cell(own * rest), trees * peer_trees),
        "df": plots - 1, "peer_df": peer_plots - 1, "squares": at.by_cell(counts.trees**2),
        "peer_squares": at.by_home(at.plot_trees**2) + at.by_cell(rest_trees**2 - at.plot_trees[at.plot] ** 2),
    }  # fmt: skip
    sides = (trees > 0) & (peer_trees > 0)
    return Cells(**{name: column[sides] for name, column in made.items()})


@dataclass(frozen=True, slots=True)
class _Places:
    """Where each row belongs: its cell (thing × block) and its plot × block, with the totals of the latter."""

    item: Ints
    stratum: Ints
    cell: NDArray[np.intp]
    plot: NDArray[np.intp]
    home: Ints
    plot_alive: Floats
    plot_trees: Floats
    n_strata: int

    @classmethod
    def of(cls, counts: Counts) -> "_Places":
        n_strata = int(counts.stratum.max(initial=0)) + 1
        cells, cell = distinct(counts.item * n_strata + counts.stratum)
        plots, plot = np.unique(counts.plot * n_strata + counts.stratum, return_inverse=True)
        alive, trees = (summed(plot, column, plots.size) for column in (counts.alive, counts.trees))
        return cls(cells // n_strata, cells % n_strata, cell, plot, plots % n_strata, alive, trees, n_strata)

    def by_cell(self, values: NDArray) -> Floats:
        return summed(self.cell, values, self.item.size)

    def by_home(self, values: NDArray) -> Floats:
        """Sums over the plots of a block, for every cell of it."""
        return summed(self.home, values, self.n_strata)[self.stratum]

    def squared_about(self, share: Floats) -> Floats:
        """Sum of (alive − share × trees)² over all plots of the block, for every cell of it."""
        living, trees = self.plot_alive, self.plot_trees
        return (
            self.by_home(living**2)
            - 2 * share * self.by_home(living * trees)
            + share**2 * self.by_home(trees**2)
        )


def _ratio(alive: Floats, trees: Floats) -> Floats:
    return np.divide(alive, trees, out=np.zeros(trees.size), where=trees > 0)


def _variance(plots: Floats, squares: Floats, scale: Floats) -> Floats:
    """Sum of squared residuals as the variance of a share; NaN with fewer than two plots."""
    factor = np.where(plots > 1, plots / np.maximum(plots - 1, 1), np.nan)
    return factor * squares / np.maximum(scale, 1)

"""Who is whose peer: the counts of each thing by plot, in the cells where its peers are sought."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitoring.estimators import rows
from monitoring.estimators.contrast import Counts
from monitoring.estimators.measures import domains_of, measures_of
from monitoring.estimators.sums import distinct, summed
from monitoring.estimators.table import CountTable, Ints


@dataclass(frozen=True, slots=True)
class Lines:
    """Count lines that enter a comparison.

    Attributes
    ----------
    enters : (n_rows,) of the table.
    item, cell : (n_entering,) code of the thing, and of block × season (species) or block × species × season (lots,
        stock types and nurseries, whose peers are of their own species).
    alive, trees : (n_entering,)
    keys : names of the things, by code.
    n_kinds, n_seasons : cells are numbered (block × n_kinds + species + 1) × n_seasons + season + 1; a number of 1
        where it makes no difference.
    """

    enters: NDArray[np.bool_]
    item: Ints
    cell: Ints
    alive: Ints
    trees: Ints
    keys: tuple[str, ...]
    n_kinds: int
    n_seasons: int

    def block(self, cell: Ints) -> Ints:
        """Block code of a cell."""
        return cell // (self.n_kinds * self.n_seasons)

    def kind(self, cell: Ints) -> Ints:
        """What peers must have in common: the species of a cell; 0 for species themselves."""
        return cell // self.n_seasons % self.n_kinds


def lines_of(table: CountTable, scope: str, season: Ints | None = None) -> Lines:
    """The lines of one scope, on survival of counted baselines.

    Parameters
    ----------
    season : (n_rows,) code of the planting season of each line, −1 unknown. Trees of another age are no peers.
    """
    domains = domains_of(table, scope)
    n_kinds = 1 if scope == "species" else int(table.species.max(initial=-1)) + 2
    n_seasons = 1 if season is None else int(season.max(initial=-1)) + 2
    cell = table.block * n_kinds + (0 if n_kinds == 1 else table.species + 1)
    cell = cell * n_seasons + (0 if season is None else season + 1)
    survival = next((m for m in measures_of(table) if m.name == rows.SURVIVAL), None)
    if survival is None:
        nothing, empty = np.zeros(table.block.size, bool), np.zeros(0, np.int64)
        return Lines(nothing, empty, empty, empty, empty, domains.keys, n_kinds, n_seasons)
    enters = survival.applies & (domains.code >= 0) & (survival.trees > 0)
    return Lines(
        enters, domains.code[enters], cell[enters], survival.alive[enters], survival.trees[enters],
        domains.keys, n_kinds, n_seasons,
    )  # fmt: skip


def counts_of(table: CountTable, lines: Lines) -> Counts:
    """The lines summed to thing × cell × plot."""
    plot = table.plot[lines.enters]
    n_plots, n_cells = int(plot.max(initial=0)) + 1, int(lines.cell.max(initial=0)) + 1
    keys, where = np.unique((lines.item * n_cells + lines.cell) * n_plots + plot, return_inverse=True)
    alive, trees = (summed(where, c, keys.size).astype(np.int64) for c in (lines.alive, lines.trees))
    item, cell = np.divmod(keys // n_plots, n_cells)
    return Counts(item, cell, keys % n_plots, alive, trees)


@dataclass(frozen=True, slots=True)
class Standing:
    """Where things stand; each pair of arrays one entry per distinct thing × block or thing × plot.

    Attributes
    ----------
    item, block, kind, trees : (n_pairs,) thing × cell with its trees.
    n_plots, n_trees, n_alive : (n_items,)
    """

    item: Ints
    block: Ints
    kind: Ints
    trees: Ints
    n_plots: Ints
    n_trees: Ints
    n_alive: Ints

    def blocks(self, item: int, most: int) -> Ints:
        """Blocks a thing stands in, the one with most of its trees first."""
        mine = self.item == item
        block, where = np.unique(self.block[mine], return_inverse=True)
        return block[np.argsort(-np.bincount(where, self.trees[mine]), kind="stable")][:most]

    def n_blocks(self, item: int) -> int:
        return np.unique(self.block[self.item == item]).size

    def possible_peer(self, item: int) -> int | None:
        """The thing of its kind with most plots that it shares no block with; None if there is none."""
        kinds = np.unique(self.kind[self.item == item])
        others = np.unique(self.item[np.isin(self.kind, kinds) & (self.item != item)])
        return int(others[np.argmax(self.n_plots[others])]) if others.size else None


def standing(counts: Counts, lines: Lines) -> Standing:
    """Where every thing stands and what it rests on."""
    n_items, n_cells = len(lines.keys), int(counts.stratum.max(initial=0)) + 1
    keys, where = distinct(counts.item * n_cells + counts.stratum)
    item, cell = np.divmod(keys, n_cells)
    n_plots = int(counts.plot.max(initial=0)) + 1
    held, _ = distinct(counts.item * n_plots + counts.plot)
    whole = [summed(counts.item, c, n_items).astype(np.int64) for c in (counts.trees, counts.alive)]
    return Standing(
        item, lines.block(cell), lines.kind(cell), summed(where, counts.trees, keys.size).astype(np.int64),
        np.bincount(held // n_plots, minlength=n_items), *whole,
    )  # fmt: skip

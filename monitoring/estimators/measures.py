"""From count lines to what is measured: numerators, denominators and the domain each line belongs to."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitoring.estimators import rows
from monitoring.estimators.table import COUNTED, REBUILT, SEED, SEED_SPOT, TREE, CountTable, Ints

WHOLE_SCOPES = ("project", "site", "block")  # a domain is everything in its blocks
COHORT_SCOPES = ("cohort", "lot", "stock_type", "nursery")  # need a line with a single cohort


@dataclass(frozen=True, slots=True)
class Measure:
    """One share over the count lines it applies to; arrays `(n_rows,)`.

    Attributes
    ----------
    name, unit : code of the measure and of the planting unit.
    applies : lines that enter.
    alive, trees : numerator and denominator of each line, `0 <= alive <= trees`.
    scale : what the share is multiplied by for display (100 for seedlings per 100 seeds).
    only_where_removed : give rows only where trees were removed on purpose.
    """

    name: str
    unit: int
    applies: NDArray[np.bool_]
    alive: Ints
    trees: Ints
    scale: float = 1.0
    only_where_removed: bool = False


def survival_measure(table: CountTable) -> Measure:
    """The survival headline alone: living over planted − not assessed − removed on purpose."""
    base = np.maximum(table.planted - table.not_assessed - table.removed, 0)
    tree = (table.unit == TREE) & (table.baseline == COUNTED)
    return Measure(rows.SURVIVAL, TREE, tree, np.minimum(table.alive, base), base)


def measures_of(table: CountTable) -> tuple[Measure, ...]:
    """The survival headline, then every other measure the table has lines for.

    The denominator is planted − not assessed − removed on purpose; not found counts as not alive, and as
    alive in `survival_if_found`. Living trees are capped at the denominator.
    """
    base = np.maximum(table.planted - table.not_assessed - table.removed, 0)
    alive = np.minimum(table.alive, base)
    found = np.minimum(table.alive + table.not_found, base)
    with_removed = np.maximum(table.planted - table.not_assessed, 0)
    removed_alive = np.minimum(table.alive + table.removed, with_removed)
    tree = (table.unit == TREE) & (table.baseline == COUNTED)
    spot, seed = table.unit == SEED_SPOT, table.unit == SEED
    rebuilt = (table.unit == TREE) & (table.baseline == REBUILT)
    every = (
        survival_measure(table),
        Measure(rows.SURVIVAL_IF_FOUND, TREE, tree, found, base),
        Measure(
            rows.SURVIVAL_REMOVED_ALIVE, TREE, tree, removed_alive, with_removed, only_where_removed=True
        ),
        Measure(rows.SHARE_OF_VISIBLE_SPOTS, TREE, rebuilt, alive, base),
        Measure(rows.SPOT_OCCUPANCY, SEED_SPOT, spot, alive, base),
        Measure(rows.SEEDLINGS_PER_100_SEEDS, SEED, seed, alive, base, scale=100.0),
    )
    return (every[0], *(m for m in every[1:] if (m.applies & (table.planted > 0)).any()))


def flagged_lines(table: CountTable) -> NDArray[np.bool_]:
    """Lines with an open case, or with more alive than their baseline allows; without a baseline, none does."""
    base = np.maximum(table.planted - table.not_assessed - table.removed, 0)
    return (table.flagged > 0) | ((table.planted > 0) & (table.alive > base))


def share_not_removed(planted: int, not_assessed: int, removed: int) -> float:
    """Share of planted trees that were not removed on purpose.

    Survival leaves removed trees out, so living trees are planted × this share × survival.

    >>> share_not_removed(planted=120, not_assessed=20, removed=25)
    0.75
    """
    assessed = planted - not_assessed
    return max(assessed - removed, 0) / assessed if assessed > 0 else 1.0


@dataclass(frozen=True, slots=True)
class Domains:
    """The things of one scope: `code` of each line `(n_rows,)`, −1 where it has none, and their keys."""

    code: Ints
    keys: tuple[str, ...]


def domains_of(table: CountTable, scope: str) -> Domains:
    """The domains of a scope, in the order of their codes."""
    if scope == "project":
        names = table.labels.get("project", ())
        return Domains(np.zeros_like(table.block), (names[0] if names else "project",))
    if scope == "block":
        return Domains(table.block, tuple(table.label("block", code) for code in range(table.n_blocks)))
    if scope == "site":
        return _compressed(table, "site", table.blocks.site[table.block])
    if scope == "block_species":
        return _block_species(table)
    return _compressed(table, scope, getattr(table, scope))


def _compressed(table: CountTable, dimension: str, codes: Ints) -> Domains:
    present = np.unique(codes[codes >= 0])
    keys = tuple(table.label(dimension, int(code)) for code in present)
    return Domains(np.where(codes >= 0, np.searchsorted(present, codes), -1), keys)


def _block_species(table: CountTable) -> Domains:
    width = int(table.species.max(initial=0)) + 1
    pairs = np.where(table.species >= 0, table.block * width + table.species, -1)
    present = np.unique(pairs[pairs >= 0])
    keys = tuple(
        f"{table.label('block', int(p // width))}:{table.label('species', int(p % width))}" for p in present
    )
    return Domains(np.where(pairs >= 0, np.searchsorted(present, pairs), -1), keys)

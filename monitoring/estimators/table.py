"""The one shape in which counts reach the estimators.

A `CountTable` is a set of equal-length integer columns, one row per plot × baseline line, with the facts
of each block beside it. Things are integer codes from 0 (−1: none, or not a single one); their names stand
in `labels` and become the `key` of an `EstimateRow`. Give codes in the sorted order of the names, so that
the same counts always give the same bytes.

>>> from monitoring.estimators.table import BlockFacts, CountTable
>>> from monitoring.estimators.round_estimates import round_estimates
>>> table = CountTable.build(
...     block=[0, 0, 0], plot=[0, 1, 2], species=[0, 0, 0],
...     planted=[20, 20, 20], alive=[18, 17, 12], not_found=[0, 1, 2],
...     labels={"project": ("p",), "block": ("North",), "species": ("quercus-robur",)},
...     blocks=BlockFacts.build(1, planted=[2400]),
... )
>>> row = next(r for r in round_estimates(table) if r.scope == "block" and r.is_headline)
>>> row.key, row.measure, row.method, round(row.value, 3)
('North', 'survival', 'beta_binomial_posterior', 0.783)
>>> 0 < row.lower < row.value < row.upper < 1
True

A visited plot that holds nothing is one row with `species=-1` and `planted=0`: it stays in the sample.
A plot nobody reached has no row. A destroyed plot is a row with `alive=0`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

TREE, SEED_SPOT, SEED = 0, 1, 2  # codes of `unit`
COUNTED, REBUILT = 0, 1  # codes of `baseline`: counted, or rebuilt from visible spots

DIMENSIONS = ("block", "species", "cohort", "lot", "stock_type", "nursery")
_CODES = ("block", "plot", "species", "cohort", "lot", "stock_type", "nursery")
_COUNTS = ("planted", "alive", "dead_stem", "empty_spot", "not_found", "not_assessed", "removed")
_OTHERS = ("unit", "baseline", "flagged")
INTEGER_COLUMNS = _CODES + _COUNTS + _OTHERS


@dataclass(frozen=True, slots=True)
class BlockFacts:
    """What is known of each block as a whole, in the order of the block codes; each `(n_blocks,)`.

    Attributes
    ----------
    planted : trees planted in the whole block by the ledger, the weight of the block; −1 unknown. [trees]
    planted_spots : the same for seed spots. [spots]
    plots : plots the block could hold, for the finite-population correction; −1 unknown. [plots]
    net_area_ha : NaN unknown. [ha]
    is_census : every planted tree was looked at, so there is no sampling error.
    site : code of the site; −1 none.
    """

    planted: Ints
    planted_spots: Ints
    plots: Ints
    net_area_ha: Floats
    is_census: NDArray[np.bool_]
    site: Ints

    @classmethod
    def build(
        cls,
        n_blocks: int,
        *,
        planted: ArrayLike | None = None,
        planted_spots: ArrayLike | None = None,
        plots: ArrayLike | None = None,
        net_area_ha: ArrayLike | None = None,
        is_census: ArrayLike | None = None,
        site: ArrayLike | None = None,
    ) -> "BlockFacts":
        """Facts with unknowns filled in; every array given must hold one entry per block."""
        facts = cls(
            planted=_column(planted, n_blocks, -1),
            planted_spots=_column(planted_spots, n_blocks, -1),
            plots=_column(plots, n_blocks, -1),
            net_area_ha=np.asarray(np.full(n_blocks, np.nan) if net_area_ha is None else net_area_ha, float),
            is_census=np.asarray(np.zeros(n_blocks) if is_census is None else is_census, bool),
            site=_column(site, n_blocks, -1),
        )
        for name in cls.__slots__:
            if getattr(facts, name).shape != (n_blocks,):
                raise ValueError(f"{name} needs one entry for each of the {n_blocks} blocks.")
        return facts


@dataclass(frozen=True, slots=True)
class CountTable:
    """Counts of one round, one row per plot × baseline line; each column `(n_rows,)` of int64.

    Attributes
    ----------
    block, plot, species, cohort, lot, stock_type, nursery
        Codes; −1 for none or more than one. A plot belongs to one block.
    planted, alive, dead_stem, empty_spot, not_found, not_assessed, removed
        Counts as on the count sheet; `removed` are living trees taken out on purpose since planting.
        `alive` may exceed what is possible: it is capped in the estimate and the line counts as flagged.
        For seed spots `planted` are spots and `alive` occupied spots; for seed, seeds and seedlings.
    unit, baseline : `TREE`, `SEED_SPOT`, `SEED`; `COUNTED`, `REBUILT`.
    flagged : 1 where the line carries an open case.
    plot_weight : relative expansion weight of the plot within its block, 1 where plots are alike.
    blocks : facts of each block, indexed by block code.
    labels : names by dimension (`project`, `site`, `block`, `species`, `cohort`, `lot`, `stock_type`,
        `nursery`), indexed by code; a missing dimension is labelled by its code.
    """

    block: Ints
    plot: Ints
    species: Ints
    cohort: Ints
    lot: Ints
    stock_type: Ints
    nursery: Ints
    planted: Ints
    alive: Ints
    dead_stem: Ints
    empty_spot: Ints
    not_found: Ints
    not_assessed: Ints
    removed: Ints
    unit: Ints
    baseline: Ints
    flagged: Ints
    plot_weight: Floats
    blocks: BlockFacts
    labels: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @classmethod
    def build(
        cls,
        *,
        block: ArrayLike,
        plot: ArrayLike,
        planted: ArrayLike,
        alive: ArrayLike,
        blocks: BlockFacts | None = None,
        labels: Mapping[str, tuple[str, ...]] | None = None,
        plot_weight: ArrayLike | None = None,
        **columns: ArrayLike,
    ) -> "CountTable":
        """A checked table, sorted by block and plot; columns not given are 0 (codes: −1).

        Raises
        ------
        ValueError
            If a column is unknown or of another length, a count is negative, a block code has no facts,
            a plot stands in two blocks, or a plot weight is not above 0.
        """
        given: dict[str, Any] = {"block": block, "plot": plot, "planted": planted, "alive": alive, **columns}
        if unknown := sorted(set(given) - set(INTEGER_COLUMNS)):
            raise ValueError(f"unknown columns: {', '.join(unknown)}.")
        n_rows = np.asarray(block).size
        ready = {
            name: _column(given.get(name), n_rows, -1 if name in _CODES else 0) for name in INTEGER_COLUMNS
        }
        weight = np.asarray(np.ones(n_rows) if plot_weight is None else plot_weight, float)
        n_blocks = int(ready["block"].max(initial=-1)) + 1
        facts = blocks or BlockFacts.build(n_blocks)
        _check(ready, weight, facts)
        order = np.lexsort((ready["species"], ready["plot"], ready["block"]))
        return cls(
            **{name: column[order] for name, column in ready.items()},
            plot_weight=weight[order],
            blocks=facts,
            labels=labels or {},
        )

    @property
    def n_blocks(self) -> int:
        """Blocks the table knows of, surveyed or not."""
        return self.blocks.planted.size

    def label(self, dimension: str, code: int) -> str:
        """The name that stands for a code."""
        names = self.labels.get(dimension, ())
        return names[code] if 0 <= code < len(names) else str(code)


def _column(values: ArrayLike | None, length: int, default: int) -> Ints:
    if values is None:
        return np.full(length, default, dtype=np.int64)
    column = np.asarray(values)
    if column.dtype.kind not in "iu" and column.size and not np.equal(np.mod(column, 1), 0).all():
        raise ValueError("counts and codes must be whole numbers.")
    return column.astype(np.int64)


def _check(columns: Mapping[str, Ints], weight: Floats, facts: BlockFacts) -> None:
    n_rows = columns["block"].size
    for name, column in columns.items():
        if column.shape != (n_rows,):
            raise ValueError(f"{name} has {column.size} rows where block has {n_rows}.")
        if name in _COUNTS and (column < 0).any():
            raise ValueError(f"{name} must not be negative.")
    if (columns["block"] < 0).any() or (columns["plot"] < 0).any():
        raise ValueError("every row needs a block and a plot.")
    if columns["block"].max(initial=-1) >= facts.planted.size:
        raise ValueError("a block in the table has no entry in the block facts.")
    if weight.shape != (n_rows,) or not (weight > 0).all():
        raise ValueError("plot_weight must be above 0 in every row.")
    pairs = np.unique(columns["plot"] * facts.planted.size + columns["block"])
    if np.unique(columns["plot"]).size != pairs.size:
        raise ValueError("a plot stands in two blocks.")

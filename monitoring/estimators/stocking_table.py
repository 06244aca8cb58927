"""Plots with their area and living trees: what stocking is estimated from."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitoring.estimators.table import SEED, CountTable, Floats, Ints


@dataclass(frozen=True, slots=True)
class StockingTable:
    """Plots with their area, one row per visited plot; each `(n_plots,)` unless said otherwise.

    Attributes
    ----------
    block : code of the block.
    area_ha : horizontal area of the plot. [ha]
    planted, natural : living acceptable trees, capped counts as capped; a seed spot counts one tree.
    net_area_ha : `(n_blocks,)`, the weight of a block; NaN unknown. [ha]
    target_per_ha : `(n_blocks,)`, NaN for none. [trees/ha]
    plots : `(n_blocks,)`, plots the block could hold, −1 unknown.
    is_census : `(n_blocks,)`, the whole block was counted.
    without_area : `(n_blocks,)`, plots visited whose area is not known; they have no row.
    labels : names of `project` and `block`.
    """

    block: Ints
    area_ha: Floats
    planted: Ints
    natural: Ints
    net_area_ha: Floats
    target_per_ha: Floats
    plots: Ints
    is_census: NDArray[np.bool_]
    without_area: Ints
    labels: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @classmethod
    def build(
        cls,
        *,
        block: ArrayLike,
        area_ha: ArrayLike,
        planted: ArrayLike,
        natural: ArrayLike,
        net_area_ha: ArrayLike,
        target_per_ha: ArrayLike | None = None,
        plots: ArrayLike | None = None,
        is_census: ArrayLike | None = None,
        without_area: ArrayLike | None = None,
        labels: Mapping[str, tuple[str, ...]] | None = None,
    ) -> "StockingTable":
        """A checked table in the order of the blocks.

        Raises
        ------
        ValueError
            If columns differ in length, a count is negative, an area is not above 0, or a block is unknown.
        """
        codes, areas = np.asarray(block, np.int64), np.asarray(area_ha, float)
        net = np.asarray(net_area_ha, float)
        order = np.argsort(codes, kind="stable")
        living = [np.asarray(column, np.int64) for column in (planted, natural)]
        if any(column.shape != codes.shape for column in (areas, *living)):
            raise ValueError("block, area_ha, planted and natural need one entry per plot.")
        if not (areas > 0).all() or any((column < 0).any() for column in living):
            raise ValueError("plot areas must be above 0 and counts must not be negative.")
        if codes.size and not (codes.min() >= 0 and codes.max() < net.size):
            raise ValueError("every block needs its net area (NaN where unknown).")
        return cls(
            codes[order], areas[order], living[0][order], living[1][order], net,
            np.full(net.size, np.nan) if target_per_ha is None else np.asarray(target_per_ha, float),
            np.full(net.size, -1) if plots is None else np.asarray(plots, np.int64),
            np.zeros(net.size, bool) if is_census is None else np.asarray(is_census, bool),
            np.zeros(net.size, np.int64) if without_area is None else np.asarray(without_area, np.int64),
            labels or {},
        )  # fmt: skip

    def label(self, dimension: str, code: int) -> str:
        """The name of a block or of the project."""
        names = self.labels.get(dimension, ())
        return names[code] if code < len(names) else str(code)


def living_planted(table: CountTable) -> Ints:
    """Living planted trees of each count line, `(n_rows,)`, as stocking counts them.

    Capped at what was planted and not removed; a line without a baseline cannot be capped and counts as told.
    A seed spot counts one tree, seed sown by weight or area none.

    >>> table = CountTable.build(
    ...     block=[0, 0], plot=[0, 1], planted=[10, 0], alive=[12, 3], removed=[1, 0])
    >>> living_planted(table).tolist()
    [9, 3]
    """
    room = np.maximum(table.planted - table.removed, 0)
    alive = np.where(table.planted > 0, np.minimum(table.alive, room), table.alive)
    return np.where(table.unit == SEED, 0, alive)

"""Planting spots followed one by one: between which two rounds each tree died.

Ages are counted in rounds here: 0 is planting, k the k-th round of the project, and a tree last seen alive at l and
first seen dead at r after it died in (l, r]. A tree never seen dead has r = n_rounds + 1, which stands for ∞.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitoring.estimators.history import History
from monitoring.estimators.sums import summed
from monitoring.estimators.table import Floats, Ints

DEAD, ALIVE = 0, 1  # any other mark says nothing of the tree
UNTOLD, UNLISTED = -1, -2


@dataclass(frozen=True, slots=True)
class SpotMarks:
    """What rounds say of planting spots, one entry a mark: names of plot, cohort and spot, round number, status."""

    plots: Sequence[str] = ()
    cohorts: Sequence[str] = ()
    spots: Sequence[str] = ()
    rounds: Sequence[int] = ()
    statuses: Sequence[int] = ()


@dataclass(frozen=True, slots=True)
class SpotIntervals:
    """Trees of each unit by the interval in which they died.

    Attributes
    ----------
    left, right : (n_intervals,) rounds.
    trees : (n_units, n_intervals).
    is_tagged : (n_units,) every tree planted has a spot of its own, followed in every round that saw the unit.
    came_back : (n_units,) trees marked dead and later alive. [trees]
    """

    left: Ints
    right: Ints
    trees: Floats
    is_tagged: NDArray[np.bool_]
    came_back: Ints


def spot_intervals(counts: History, marks: SpotMarks) -> SpotIntervals:
    """Sort the trees of fully marked units into intervals; living trees removed on purpose are withdrawn."""
    left, right = _all_intervals(counts.n_rounds)
    n_units = counts.plot.size
    unit, status = _matrix(counts, marks)
    living = _totals(unit, status == ALIVE, n_units)
    listed = _totals(unit, status != UNLISTED, n_units)
    wiped_out = counts.seen & (listed == 0) & (counts.counted_alive == 0)
    status = np.where(wiped_out[unit] & (status == UNLISTED), DEAD, status)
    followed = (listed > 0) & (living == counts.counted_alive) | wiped_out
    trees_named = np.bincount(unit, minlength=n_units)
    is_tagged = (trees_named > 0) & (trees_named == counts.planted.max(axis=1, initial=0))
    is_tagged &= (followed | ~counts.seen).all(axis=1)
    alive_at = np.where(status == ALIVE, np.arange(1, counts.n_rounds + 1), 0)
    last = alive_at.max(axis=1, initial=0)
    later = np.arange(1, counts.n_rounds + 1) > last[:, None]
    dead_at = np.where((status == DEAD) & later, np.arange(1, counts.n_rounds + 1), counts.n_rounds + 1)
    first = dead_at.min(axis=1, initial=counts.n_rounds + 1)
    code = _code(last, first, left, right, counts.n_rounds)
    trees = summed(unit * left.size + code, np.ones(unit.size), n_units * left.size)
    trees = trees.reshape(n_units, left.size)
    back = ((status == DEAD) & ~later).any(axis=1)
    withdraw(trees, left, right, counts)
    return SpotIntervals(left, right, trees, is_tagged, np.bincount(unit, back, n_units).astype(np.int64))


def _all_intervals(n_rounds: int) -> tuple[Ints, Ints]:
    pairs = [(low, high) for low in range(n_rounds + 1) for high in range(low + 1, n_rounds + 2)]
    columns = np.array(pairs, dtype=np.int64).reshape(-1, 2)
    return columns[:, 0], columns[:, 1]


def _matrix(counts: History, marks: SpotMarks) -> tuple[Ints, Ints]:
    """Unit of each spot, and its status by round `(n_spots, n_rounds)`; alive beats dead in one round."""
    unit_of = {
        (counts.plots[plot], counts.cohorts[cohort]): number
        for number, (plot, cohort) in enumerate(
            zip(counts.plot.tolist(), counts.cohort.tolist(), strict=True)
        )
    }
    spot_of: dict[tuple[int, str], int] = {}
    entries = []
    for plot, cohort, spot, number, mark in zip(
        marks.plots, marks.cohorts, marks.spots, marks.rounds, marks.statuses, strict=True
    ):
        known = unit_of.get((plot, cohort))
        if known is not None:
            entries.append((spot_of.setdefault((known, spot), len(spot_of)), number, mark))
    found = np.full((len(spot_of), counts.n_rounds), UNLISTED, dtype=np.int64)
    if entries:
        where, number, status = np.array(entries, dtype=np.int64).T
        np.maximum.at(found, (where, number), np.where(np.isin(status, (DEAD, ALIVE)), status, UNTOLD))
    unit = np.array([unit for unit, _spot in spot_of], dtype=np.int64)
    return unit, found


def _totals(unit: Ints, condition: NDArray[np.bool_], n_units: int) -> Ints:
    found = np.zeros((n_units, condition.shape[1]), dtype=np.int64)
    np.add.at(found, unit, condition.astype(np.int64))
    return found


def _code(last: Ints, first: Ints, left: Ints, right: Ints, n_rounds: int) -> Ints:
    lookup = np.full((n_rounds + 2, n_rounds + 2), 0, dtype=np.int64)
    lookup[left, right] = np.arange(left.size)
    return lookup[last, first]


def withdraw(trees: Floats, left: Ints, right: Ints, counts: History) -> None:
    """Move living trees removed between two visits from “died there” to “last seen alive before”, in place.

    Those whose spots were simply no longer listed stand there already.
    """
    never = counts.n_rounds + 1
    for number in range(counts.n_rounds):
        before = _round_before(counts.seen, number)
        for start in np.unique(before[counts.removed[:, number] > 0]).tolist():
            units = (before == start) & (counts.removed[:, number] > 0)
            died = int(np.flatnonzero((left == start) & (right == number + 1))[0])
            open_end = int(np.flatnonzero((left == start) & (right == never))[0])
            moved = np.clip(counts.removed[units, number] - trees[units, open_end], 0, trees[units, died])
            trees[units, died] -= moved
            trees[units, open_end] += moved


def _round_before(seen: NDArray[np.bool_], number: int) -> Ints:
    """The visit before a round, counted from 1; 0 is planting."""
    rounds = np.where(seen[:, :number], np.arange(1, number + 1), 0)
    return rounds.max(axis=1, initial=0)

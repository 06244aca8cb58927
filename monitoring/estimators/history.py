"""All rounds of a project laid over each other: what was counted of each cohort in each plot, round by round.

A *unit* is one cohort in one plot. Only planted trees with a counted baseline and a cohort of their own enter.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitoring.estimators.measures import survival_measure
from monitoring.estimators.sums import distinct, summed
from monitoring.estimators.table import Floats, Ints
from monitoring.estimators.two_rounds import Occasion, translated


@dataclass(frozen=True, slots=True)
class Removals:
    """Living trees taken out on purpose: names of plot and cohort, day number and trees, one entry a removal."""

    plots: Sequence[str] = ()
    cohorts: Sequence[str] = ()
    day: ArrayLike = ()
    trees: ArrayLike = ()


@dataclass(frozen=True, slots=True)
class History:
    """Counts of a project over its rounds, oldest first; arrays `(n_units,)` or `(n_units, n_rounds)`.

    Attributes
    ----------
    plot, block, cohort, weight : of each unit; codes index `plots`, `blocks`, `cohorts`.
    seen : the plot was visited in the round and at least one tree of the unit was looked at.
    planted, alive : trees, and those living, had every tree not removed been looked at: trees not assessed are
        taken to fare like the others of their plot. [trees]
    removed : living trees taken out on purpose since the visit before. [trees]
    stayed : part of the time between the two visits that these were there, summed over them. [trees]
    counted_alive, counted : trees as counted, without filling in. [trees]
    day : of the visit; age_days : of the cohort then, NaN unknown. [days]
    left_out : (n_blocks,) the block has counts that mix cohorts.
    """

    plots: tuple[str, ...]
    blocks: tuple[str, ...]
    cohorts: tuple[str, ...]
    plot: Ints
    block: Ints
    cohort: Ints
    weight: Floats
    seen: NDArray[np.bool_]
    planted: Floats
    alive: Floats
    removed: Floats
    stayed: Floats
    counted_alive: Ints
    counted: Ints
    day: Ints
    age_days: Floats
    left_out: NDArray[np.bool_]

    @property
    def n_rounds(self) -> int:
        """Rounds, seen by any unit or not."""
        return self.seen.shape[1]


def history(rounds: Sequence[Occasion], removals: Removals | None = None) -> History:
    """Lay the rounds of a project over each other.

    Parameters
    ----------
    rounds : oldest first, each with labels for blocks and cohorts.
    removals : with their days; one whose day lies between no two visits counts as half way.
    """
    names = [_names(rounds, dimension) for dimension in ("block", "cohort")]
    plots = tuple(sorted({name for one in rounds for name in one.plots}))
    columns = [_lines(one, plots, names[0], names[1]) for one in rounds]
    n_cohorts = max(len(names[1]), 1)
    keys = [column["plot"] * n_cohorts + column["cohort"] for column in columns]
    pairs, where = distinct(np.concatenate(keys) if keys else np.empty(0, np.int64))
    places = np.split(where, np.cumsum([key.size for key in keys])[:-1]) if keys else []
    dense = {name: _dense(name, columns, places, pairs.size) for name in SUMMED}
    block, weight = np.zeros(pairs.size, np.int64), np.ones(pairs.size)
    for column, place in zip(columns, places, strict=True):
        block[place], weight[place] = column["block"], column["plot_weight"]
    day = np.stack([_days(one, plots)[pairs // n_cohorts] for one in rounds], axis=1) if rounds else None
    seen = dense["base"] > 0
    day = np.where(seen, day, -1) if day is not None else np.zeros(seen.shape, np.int64)
    left = np.maximum(dense["planted"] - dense["removed"], 0)
    filled = np.divide(dense["alive"], dense["base"], out=np.zeros_like(left), where=seen) * left
    age = np.divide(dense["age"], dense["planted"], out=np.full(seen.shape, np.nan), where=seen)
    removed = _since_before(dense["removed"], seen)
    planted_day = np.nan_to_num(day - age, nan=-1.0)
    stayed = _stayed(removals or Removals(), plots, names[1], pairs, seen, day, planted_day, removed)
    return History(
        plots=plots, blocks=names[0], cohorts=names[1],
        plot=pairs // n_cohorts, block=block, cohort=pairs % n_cohorts, weight=weight,
        seen=seen, planted=dense["planted"], alive=np.where(dense["base"] == left, dense["alive"], filled),
        removed=removed, stayed=stayed,
        counted_alive=dense["alive"].astype(np.int64), counted=dense["base"].astype(np.int64),
        day=day, age_days=age, left_out=_left_out(rounds, names[0]),
    )  # fmt: skip


SUMMED = ("planted", "alive", "base", "removed", "age")


def _names(rounds: Sequence[Occasion], dimension: str) -> tuple[str, ...]:
    return tuple(sorted({name for one in rounds for name in one.table.labels.get(dimension, ())}))


def _lines(
    occasion: Occasion, plots: tuple[str, ...], blocks: tuple[str, ...], cohorts: tuple[str, ...]
) -> dict[str, NDArray]:
    """Columns of the lines that enter, under the codes of all rounds."""
    table, measure = occasion.table, survival_measure(occasion.table)
    rows = measure.applies & (table.cohort >= 0) & (table.planted > 0)
    return {
        "plot": translated(table.plot[rows], occasion.plots, plots),
        "block": translated(table.block[rows], table.labels["block"], blocks),
        "cohort": translated(table.cohort[rows], table.labels["cohort"], cohorts),
        "plot_weight": table.plot_weight[rows],
        "planted": table.planted[rows],
        "alive": measure.alive[rows],
        "base": measure.trees[rows],
        "removed": table.removed[rows],
        "age": occasion.age_days[rows] * table.planted[rows],
    }


def _dense(name: str, columns: Sequence[dict[str, NDArray]], places: Sequence[Ints], n_units: int) -> Floats:
    """A column summed to unit × round."""
    found = np.zeros((n_units, len(columns)))
    for number, (column, place) in enumerate(zip(columns, places, strict=True)):
        found[:, number] = summed(place, column[name], n_units)
    return found


def _days(occasion: Occasion, plots: tuple[str, ...]) -> Ints:
    place = {name: code for code, name in enumerate(plots)}
    found = np.full(len(plots), -1, dtype=np.int64)
    found[[place[name] for name in occasion.plots]] = occasion.day
    return found


def _since_before(total: Floats, seen: NDArray[np.bool_]) -> Floats:
    """Trees removed since the visit before, from the running total at each visit."""
    before, found = np.zeros(total.shape[0]), np.zeros_like(total)
    for number in range(total.shape[1]):
        here = seen[:, number]
        found[here, number] = np.maximum(total[here, number] - before[here], 0)
        before = np.where(here, total[:, number], before)
    return found


def _stayed(
    removals: Removals,
    plots: tuple[str, ...],
    cohorts: tuple[str, ...],
    pairs: Ints,
    seen: NDArray[np.bool_],
    day: Ints,
    planted_day: Floats,
    removed: Floats,
) -> Floats:
    """Sum over removed trees of the part of their interval in which they were there; a half where untold."""
    told, share = np.zeros_like(removed), np.zeros_like(removed)
    place, cohort_of = {p: n for n, p in enumerate(plots)}, {c: n for n, c in enumerate(cohorts)}
    trees, days = np.asarray(removals.trees, float), np.asarray(removals.day, float)
    for number, (plot, cohort) in enumerate(zip(removals.plots, removals.cohorts, strict=True)):
        key = place.get(plot, -1) * max(len(cohorts), 1) + cohort_of.get(cohort, -1)
        unit = int(np.searchsorted(pairs, key))
        if plot not in place or cohort not in cohort_of or unit >= pairs.size or pairs[unit] != key:
            continue
        visits = np.flatnonzero(seen[unit] & (day[unit] >= days[number]))
        if not visits.size:
            continue
        after = int(visits[0])
        before = np.flatnonzero(seen[unit, :after])
        start = day[unit, before[-1]] if before.size else planted_day[unit, after]
        length = day[unit, after] - start
        told[unit, after] += trees[number]
        share[unit, after] += trees[number] * (
            np.clip((days[number] - start) / length, 0, 1) if length > 0 else 0.5
        )
    untold = np.maximum(removed - told, 0)
    scale = np.divide(removed, told, out=np.ones_like(removed), where=told > removed)
    return share * scale + 0.5 * untold


def _left_out(rounds: Sequence[Occasion], blocks: tuple[str, ...]) -> NDArray[np.bool_]:
    found = np.zeros(len(blocks), bool)
    for one in rounds:
        table, measure = one.table, survival_measure(one.table)
        mixed = measure.applies & (table.cohort < 0) & (table.planted > 0)
        found[translated(table.block[mixed], table.labels["block"], blocks)] = True
    return found

"""What else differed between a thing and its peers in the same blocks: when they were planted, and by whom."""

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from monitoring.estimators.table import Floats, Ints


@dataclass(frozen=True, slots=True)
class Handling:
    """One thing against its peers in the cells they share.

    Attributes
    ----------
    days_later : mean planting date minus that of its peers, weighted by its trees; None where a date is unknown.
        [days]
    crews_apart : every crew is known, and none planted both the thing and a peer in any shared cell.
    """

    days_later: float | None
    crews_apart: bool


def handling(
    item: Ints, cell: Ints, trees: Ints, cohort: Ints, planted_day: Floats, crews: Sequence[Collection[str]]
) -> dict[int, Handling]:
    """Compare planting dates and crews of things that share a cell with a peer; others have no entry.

    Parameters
    ----------
    item, cell, trees, cohort : (n_lines,) codes and trees of the count lines; cohort −1 where there is none.
    planted_day : (n_cohorts,) mean planting date as a day number, NaN unknown.
    crews : (n_cohorts,) crews that planted each cohort, empty where nobody wrote it down.

    Examples
    --------
    >>> lines = np.array([0, 1]), np.array([0, 0]), np.array([10, 10]), np.array([0, 1])
    >>> handling(*lines, np.array([150.0, 100.0]), [{"north"}, {"south", "north"}])[0]
    Handling(days_later=50.0, crews_apart=False)
    """
    found: dict[int, list[tuple[float, float, bool]]] = defaultdict(list)
    for _cell, sides in _by_cell(item, cell, trees, cohort).items():
        for thing, own in sides.items():
            peers = [
                planting for other, plantings in sides.items() if other != thing for planting in plantings
            ]
            if peers:
                later = _mean_day(own, planted_day) - _mean_day(peers, planted_day)
                apart = _crews_apart(_crews(own, crews), _crews(peers, crews))
                found[thing].append((sum(n for _, n in own), later, apart))
    return {thing: _over_cells(cells) for thing, cells in found.items()}


_Plantings = list[tuple[int, float]]  # cohort and its trees


def _by_cell(item: Ints, cell: Ints, trees: Ints, cohort: Ints) -> dict[int, dict[int, _Plantings]]:
    lines, where = np.unique(np.stack([cell, item, cohort]), axis=1, return_inverse=True)
    weight = np.bincount(where.ravel(), trees)
    cells: dict[int, dict[int, _Plantings]] = defaultdict(lambda: defaultdict(list))
    for (place, thing, planting), n in zip(lines.T.tolist(), weight.tolist(), strict=True):
        cells[place][thing].append((planting, n))
    return cells


def _mean_day(plantings: _Plantings, planted_day: Floats) -> float:
    days = [(planted_day[cohort] if cohort >= 0 else np.nan) * n for cohort, n in plantings]
    return float(sum(days) / sum(n for _, n in plantings))


def _crews(plantings: _Plantings, crews: Sequence[Collection[str]]) -> list[frozenset[str]]:
    return [frozenset(crews[cohort]) if cohort >= 0 else frozenset() for cohort, _ in plantings]


def _crews_apart(own: list[frozenset[str]], peers: list[frozenset[str]]) -> bool:
    known = all(own) and all(peers)
    return known and not frozenset.union(*own) & frozenset.union(*peers)


def _over_cells(cells: list[tuple[float, float, bool]]) -> Handling:
    weight, later, apart = (np.array(column, float) for column in zip(*cells, strict=True))
    mean = float((weight * later).sum() / weight.sum())
    return Handling(None if np.isnan(mean) else mean, bool(apart.all()))

"""What past plantings of a stock tell of the next one: which to go by, carried to the check, as effective trees."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from monitoring.estimators.carrying import (
    DAYS_PER_YEAR,
    FIRST_YEAR_ENDS,
    LossRate,
    Recount,
    rate_after_first_year,
    share_carried,
)
from monitoring.estimators.planting_survival import ReplacementSurvival, survival_of_groups

ASSUMED_ICC = 0.1  # correlation within a plot where none could be estimated, as in the edge rule
FEWEST_GROUPS = 2  # one planting shows no difference between plantings
FEWEST_PLOTS = 5  # common practice, as for every figure of a stock
FEWEST_BESIDE_OTHERS = 2  # one plot alone says nothing
SLACK_DAYS = 30  # a count so little before the check is taken for one at the check
WINDOW_SLACK_DAYS = 21  # planted so near to the window still counts as planted in it

THIS_WINDOW, THIS_SPECIES, THIS_STOCK_TYPE, THIS_PROJECT = "window", "species", "stock_type", "project"


@dataclass(frozen=True, slots=True)
class PlantingCount:
    """One planting (a cohort, so of one block, lot and season) as one round found it.

    Attributes
    ----------
    cohort, species, stock_type, planted_on : which planting; `planted_on` its first day.
    age_days : mean age at the count.
    trees, alive, plots : trees assessed, of them alive, and the plots that hold them.
    icc : correlation within a plot, None where it could not be estimated.
    """

    cohort: str
    species: int
    stock_type: str
    planted_on: date
    age_days: int
    trees: int
    alive: int
    plots: int
    icc: float | None = None


@dataclass(frozen=True, slots=True)
class Foreseen:
    """Survival foreseen for a stock and what it rests on.

    Attributes
    ----------
    survival : to the check.
    level : `window`, `species`, `stock_type`, `project`, or empty where only the prior speaks.
    n_plantings, n_plots : what was seen.
    carried : whether any of them was counted before the check and carried to it.
    joined : whether too little was seen at that level to do without a wider one or the prior.
    """

    survival: ReplacementSurvival
    level: str = ""
    n_plantings: int = 0
    n_plots: int = 0
    carried: bool = False
    joined: bool = False


def at_check(counts: Iterable[PlantingCount], check_days: float) -> list[PlantingCount]:
    """One count of each planting: the first at or after the check, else the last before it."""
    by_cohort: dict[str, list[PlantingCount]] = defaultdict(list)
    for count in counts:
        if count.trees > 0 and count.plots > 0:
            by_cohort[count.cohort].append(count)
    chosen = []
    for _name, rows in sorted(by_cohort.items()):
        rows.sort(key=lambda row: row.age_days)
        due = [row for row in rows if row.age_days >= check_days - SLACK_DAYS]
        chosen.append(due[0] if due else rows[-1])
    return chosen


def loss_rate(counts: Iterable[PlantingCount]) -> LossRate:
    """Losses after the first year, from plantings counted at least twice after it: first and last such count."""
    by_cohort: dict[str, list[PlantingCount]] = defaultdict(list)
    for count in counts:
        if count.age_days >= FIRST_YEAR_ENDS and count.trees > 0:
            by_cohort[count.cohort].append(count)
    recounts = []
    for _name, rows in sorted(by_cohort.items()):
        first = min(rows, key=lambda row: row.age_days)
        last = max(rows, key=lambda row: row.age_days)
        years = (last.age_days - first.age_days) / DAYS_PER_YEAR
        trees = min(first.trees, last.trees)
        recounts.append(Recount(trees, first.alive / first.trees, last.alive / last.trees, years))
    return rate_after_first_year(recounts)


def foresee(
    counts: Sequence[PlantingCount],
    *,
    species: int | None,
    stock_type: str,
    window: tuple[date, date] | None,
    check_days: float,
    rate: LossRate,
    prior: ReplacementSurvival,
) -> Foreseen:
    """Survival of a planting of this stock in this window, from the plantings most like it.

    Parameters
    ----------
    counts : one count of each past planting, see `at_check`.
    species : None for a planting of the block's own mix.
    window : in which it would be planted.
    rate, prior : losses after the first year; what is expected where too little was seen.

    Notes
    -----
    From all plantings of the project to those of this stock type, of this species and stock, and of these at
    this time of the year: where a level has enough (two plantings in five plots) it speaks for itself; where it
    has less, that little is joined with what the wider level showed, at the widest with the prior. For the time
    of the year nothing is joined. Trees of a plot share a fate, so counts are divided by the design effect
    1 + (trees per plot − 1) × ICC.
    """
    icc, found = _icc(counts), Foreseen(prior)
    for level, rows in _levels(counts, species, stock_type, window):
        plots = sum(row.plots for row in rows)
        if len(rows) >= FEWEST_GROUPS and plots >= FEWEST_PLOTS:
            found = _foreseen(level, rows, check_days, rate, icc, None)
        elif plots >= FEWEST_BESIDE_OTHERS and level != THIS_WINDOW:
            wider = as_one(found.survival)
            found = replace(_foreseen(level, rows, check_days, rate, icc, wider), joined=True)
    return found


def as_one(survival: ReplacementSurvival) -> ReplacementSurvival:
    """One Beta with the mean and the correlation of several.

    >>> both = as_one(ReplacementSurvival((8.0, 8.0), (2.0, 2.0), (0.5, 0.5)))
    >>> round(both.alpha, 9), round(both.beta, 9)
    (8.0, 2.0)
    """
    size = 1 / max(survival.correlation, 1e-6) - 1
    return ReplacementSurvival(survival.mean * size, (1 - survival.mean) * size)


def _levels(
    counts: Sequence[PlantingCount], species: int | None, stock_type: str, window: tuple[date, date] | None
) -> list[tuple[str, list[PlantingCount]]]:
    """From all plantings there are to those most like the one to come."""
    stock = [row for row in counts if row.stock_type == stock_type]
    mine = [row for row in stock if row.species == species]
    found = [(THIS_PROJECT, list(counts)), (THIS_STOCK_TYPE, stock)]
    if species is not None:
        found.append((THIS_SPECIES, mine))
        if window is not None:
            found.append((THIS_WINDOW, [row for row in mine if in_window(row.planted_on, window)]))
    return found


def in_window(day: date, window: tuple[date, date]) -> bool:
    """Whether a day falls into a window of any year, or nearly.

    >>> in_window(date(2023, 11, 20), (date(2026, 12, 1), date(2027, 2, 28)))
    True
    >>> in_window(date(2024, 5, 2), (date(2026, 12, 1), date(2027, 2, 28)))
    False
    """
    opens, closes = window
    year = 365
    length = (closes - opens).days + 2 * WINDOW_SLACK_DAYS
    since = (day.timetuple().tm_yday - opens.timetuple().tm_yday + WINDOW_SLACK_DAYS) % year
    return since <= length


def _foreseen(
    level: str,
    plantings: Sequence[PlantingCount],
    check_days: float,
    rate: LossRate,
    icc: float,
    prior: ReplacementSurvival | None,
) -> Foreseen:
    alive, trees, carried = [], [], False
    for row in plantings:
        share = row.alive / row.trees
        to_come = check_days if row.age_days < check_days - SLACK_DAYS else row.age_days
        kept = float(share_carried(share, row.age_days, to_come, rate))
        effective = row.trees / (1 + max(row.trees / row.plots - 1, 0) * icc)
        alive.append(share * kept * effective)
        trees.append(effective)
        carried = carried or to_come > row.age_days
    survival = survival_of_groups(alive, trees, prior)
    return Foreseen(survival, level, len(plantings), sum(row.plots for row in plantings), carried)


def _icc(counts: Sequence[PlantingCount]) -> float:
    """Mean correlation within plots, weighted by plots; an assumed one where none is known."""
    known = [(row.icc, row.plots) for row in counts if row.icc is not None]
    if not known:
        return ASSUMED_ICC
    values, plots = np.array(known, float).T
    return float(np.average(values, weights=plots))

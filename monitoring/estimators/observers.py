"""How well people count: two counts of the same plots, and how often a living tree is found.

Agreement needs only totals of plots. Kappa and detection need planting spots that both people recorded
one by one. Where there is too little, the figures are None and `reason` says why.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitoring.estimators.intervals import student_t, wilson
from monitoring.estimators.rows import rounded
from monitoring.estimators.table import Ints

TOO_FEW_PAIRS = "too_few_pairs"  # fewer plots counted twice than limits need
NO_TAGGED_SPOTS = "no_tagged_spots"  # spots were not recorded one by one
NOTHING_TO_FIND = "nothing_to_find"  # no tree in the denominator
ONE_STATUS_ONLY = "one_status_only"  # both people gave every spot the same status
NOT_BETTER_THAN_CHANCE = "not_better_than_chance"  # statuses told no better than by tossing a coin

LEAST_PAIRS = 3


@dataclass(frozen=True, slots=True)
class Agreement:
    """First minus second count of the same plots, in the unit of the counts; None where `reason` is given.

    Attributes
    ----------
    n_plots : plots counted twice.
    mean, mean_lower, mean_upper : mean difference with its limits. One off 0 says that one of them counts more.
    sd : standard deviation of the differences.
    lower, upper : limits of agreement: where the difference of one more plot is expected at `level`.
    """

    n_plots: int
    level: float
    mean: float | None = None
    mean_lower: float | None = None
    mean_upper: float | None = None
    sd: float | None = None
    lower: float | None = None
    upper: float | None = None
    reason: str = ""


def agreement(first: ArrayLike, second: ArrayLike, level: float = 0.95) -> Agreement:
    """Mean difference and limits of agreement of two counts of the same plots.

    Parameters
    ----------
    first, second : `(n_plots,)` counts [trees] or shares of the same plots, in the same order.

    Notes
    -----
    Limits of agreement are mean ± t(n − 1) · s · √(1 + 1/n). With few plots 1.96 · s, as often printed, is
    too narrow; both agree as n grows.

    References
    ----------
    Bland & Altman (1999), Statistical Methods in Medical Research 8:135, section 2 (from memory); the t form
    is the limit for one further normal observation (common practice).

    >>> found = agreement([14, 18, 9, 16], [12, 18, 10, 15])
    >>> found.mean, round(found.lower, 2), round(found.upper, 2)
    (0.5, -4.09, 5.09)
    """
    one, other = np.asarray(first, float), np.asarray(second, float)
    if one.shape != other.shape:
        raise ValueError("both counts need the same plots.")
    n = one.size
    if n < LEAST_PAIRS:
        return Agreement(n, level, reason=TOO_FEW_PAIRS)
    difference = one - other
    mean, sd = float(difference.mean()), float(difference.std(ddof=1))
    t = float(student_t(n - 1, level))
    about, beyond = t * sd / np.sqrt(n), t * sd * np.sqrt(1 + 1 / n)
    figures = (mean, mean - about, mean + about, sd, mean - beyond, mean + beyond)
    return Agreement(n, level, *_rounded(figures))


@dataclass(frozen=True, slots=True)
class Share:
    """A share with limits that treat trees as independent; None where `reason` is given."""

    n: int
    found: int
    level: float
    value: float | None = None
    lower: float | None = None
    upper: float | None = None
    reason: str = ""


def share(found: int, n: int, level: float = 0.95, nothing: str = NOTHING_TO_FIND) -> Share:
    """`found` of `n` with Wilson limits.

    >>> share(0, 0).reason
    'nothing_to_find'
    """
    if n <= 0:
        return Share(n, found, level, reason=nothing)
    lower, upper = wilson(found, n, level)
    return Share(n, found, level, rounded(found / n), rounded(lower), rounded(upper))


@dataclass(frozen=True, slots=True)
class Kappa:
    """Cohen's kappa of two people's statuses, spot by spot; None where `reason` is given.

    Attributes
    ----------
    n : spots both recorded.
    agreed : spots on which they gave the same status.
    value, se, lower, upper : kappa, its large-sample standard error and limits, kept within −1..1.
    """

    n: int
    agreed: int
    level: float
    value: float | None = None
    se: float | None = None
    lower: float | None = None
    upper: float | None = None
    reason: str = ""


def kappa(table: ArrayLike, level: float = 0.95) -> Kappa:
    """Cohen's kappa of a square table of counts: rows one person's statuses, columns the other's.

    Only for spots recorded one by one; totals of plots cannot tell which trees two people disagree on.

    References
    ----------
    Cohen (1960), Educ. Psychol. Meas. 20:37; standard error of Fleiss, Cohen & Everitt (1969), Psychol. Bull.
    72:323 (from memory), which agrees with statsmodels.

    >>> round(kappa([[70, 5], [5, 20]]).value, 3)
    0.733
    """
    counts = np.asarray(table, float)
    if counts.ndim != 2 or counts.shape[0] != counts.shape[1]:
        raise ValueError("the table needs the same statuses in its rows and columns.")
    n, agreed = int(counts.sum()), int(np.trace(counts))
    if n == 0:
        return Kappa(n, agreed, level, reason=NO_TAGGED_SPOTS)
    p = counts / n
    rows, columns = p.sum(axis=1), p.sum(axis=0)
    seen, chance = float(np.trace(p)), float(rows @ columns)
    if chance >= 1:
        return Kappa(n, agreed, level, reason=ONE_STATUS_ONLY)
    value = (seen - chance) / (1 - chance)
    se = _kappa_se(p, rows, columns, value, chance, n)
    half = float(student_t(1e9, level)) * se
    limits = (max(value - half, -1.0), min(value + half, 1.0))
    return Kappa(n, agreed, level, *_rounded((value, se, *limits)))


def _kappa_se(p: NDArray, rows: NDArray, columns: NDArray, value: float, chance: float, n: int) -> float:
    """Large-sample standard error without assuming that kappa is 0."""
    both = rows[None, :] + columns[:, None]  # of the column's row total and the row's column total
    diagonal = np.diag(p) @ (1 - (rows + columns) * (1 - value)) ** 2
    off = (1 - value) ** 2 * ((p - np.diag(np.diag(p))) * both**2).sum()
    rest = (value - chance * (1 - value)) ** 2
    return float(np.sqrt(max(diagonal + off - rest, 0.0) / n) / (1 - chance))


@dataclass(frozen=True, slots=True)
class Detection:
    """How often each of two searches found a living tree, and how many living trees there may be.

    Attributes
    ----------
    first, second : of the trees the other found alive, the share this one found too.
    first_of_either : trees the first found of those found by either; too high, since trees that both missed
        are not in it.
    living, living_lower, living_upper : living trees, those both missed included (Chapman). [trees]
    """

    found_first: int
    found_second: int
    found_both: int
    first: Share
    second: Share
    first_of_either: Share
    living: float | None = None
    living_lower: float | None = None
    living_upper: float | None = None
    reason: str = ""


def detection(found_first: int, found_second: int, found_both: int, level: float = 0.95) -> Detection:
    """Detection rates from two independent searches of the same spots.

    Raises
    ------
    ValueError
        If more were found by both than by one of them.

    References
    ----------
    Chapman (1951), with Seber's variance (from memory).

    >>> round(detection(60, 55, 50).living, 2)
    65.98
    """
    if found_both > min(found_first, found_second) or found_both < 0:
        raise ValueError("no more trees can be found by both than by each.")
    either = found_first + found_second - found_both
    shares = (
        share(found_both, found_second, level),
        share(found_both, found_first, level),
        share(found_first, either, level),
    )
    if not either:
        return Detection(found_first, found_second, found_both, *shares, reason=NOTHING_TO_FIND)
    living = (found_first + 1) * (found_second + 1) / (found_both + 1) - 1
    spread = (found_first + 1) * (found_second + 1) * (found_first - found_both) * (found_second - found_both)
    se = np.sqrt(spread / ((found_both + 1) ** 2 * (found_both + 2)))
    half = float(student_t(1e9, level)) * float(se)
    figures = (living, max(living - half, either), living + half)
    return Detection(found_first, found_second, found_both, *shares, *_rounded(figures))


def _rounded(figures: Iterable[float]) -> list[Any]:
    return [rounded(figure) for figure in figures]


@dataclass(frozen=True, slots=True)
class Corrected:
    """An apparent share corrected for statuses that are sometimes told wrong; None where `reason` is given."""

    value: float | None = None
    reason: str = ""


def rogan_gladen(apparent: float, alive_told_alive: float, dead_told_dead: float) -> Corrected:
    """The true share living, from the apparent one and how often living and dead trees are told as they are.

    References
    ----------
    Rogan & Gladen (1978), Am. J. Epidemiol. 107:71: (apparent + specificity − 1) / (sensitivity + specificity − 1),
    kept within 0..1.

    >>> round(rogan_gladen(0.30, 0.90, 0.95).value, 3)
    0.294
    """
    better = alive_told_alive + dead_told_dead - 1
    if better <= 0:
        return Corrected(reason=NOT_BETTER_THAN_CHANCE)
    return Corrected(rounded(min(max((apparent + dead_told_dead - 1) / better, 0.0), 1.0)))


@dataclass(frozen=True, slots=True)
class Conventions:
    """What two habits make of one true survival when trees are not always found; shares."""

    not_found_is_dead: float
    not_found_is_dropped: float
    share_not_found: float


def conventions(survival: float, alive_found: float, dead_found: float) -> Conventions:
    """Survival as read by “not found is dead” and by “drop what was not found”.

    References
    ----------
    Detection rates .88 and .71 of the check: Lahoreau, Gignoux & Julliard (2004), Anim. Biodivers. Conserv.
    27:549 (abstract).

    >>> read = conventions(0.85, 0.88, 0.71)
    >>> round(read.not_found_is_dead, 3), round(read.not_found_is_dropped, 3), round(read.share_not_found, 3)
    (0.748, 0.875, 0.145)
    """
    alive, dead = survival * alive_found, (1 - survival) * dead_found
    seen = alive + dead
    if seen <= 0:
        raise ValueError("nothing would be found at all.")
    return Conventions(alive, alive / seen, 1 - seen)


def found_later(
    not_found: ArrayLike, alive_before: ArrayLike, alive_after: ArrayLike, level: float = 0.95
) -> Share:
    """Trees not found in one round that must have lived, because more lived in the next: at least so many.

    Parameters
    ----------
    not_found, alive_before : `(n_lines,)` of the earlier count of each line.
    alive_after : of the later count, resprouts left out, since those are told apart.

    Notes
    -----
    Without tags a tree that died since hides one that was found again, so the share is a lower bound.

    >>> found_later([5, 2, 0], [10, 8, 6], [13, 7, 7]).found
    3
    """
    missed: Ints = np.asarray(not_found, np.int64)
    rise = np.asarray(alive_after, np.int64) - np.asarray(alive_before, np.int64)
    return share(int(np.clip(rise, 0, missed).sum()), int(missed.sum()), level)


def cross_table(first: ArrayLike, second: ArrayLike, n_statuses: int) -> Ints:
    """Spots by the status each of two people gave them, `(n_statuses, n_statuses)`; codes from 0.

    >>> cross_table([0, 0, 1], [0, 1, 1], 2).tolist()
    [[1, 1], [0, 1]]
    """
    pairs: Any = np.asarray(first, np.int64) * n_statuses + np.asarray(second, np.int64)
    return np.bincount(pairs, minlength=n_statuses**2).reshape(n_statuses, n_statuses)

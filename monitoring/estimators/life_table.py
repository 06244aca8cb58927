"""Life tables of grouped counts: survival to the end of each interval, with trees withdrawn on the way.

A withdrawn tree (removed on purpose, or lost from sight while alive) is no death: it was under observation for a
part of its interval. Standard errors here treat trees as independent, which trees of one plot are not; limits
shown to readers come from the plots (`curves`).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from monitoring.estimators.intervals import Limits
from monitoring.estimators.table import Floats


@dataclass(frozen=True, slots=True)
class LifeTable:
    """Survival to the end of each interval; every array `(..., n_intervals)`.

    Attributes
    ----------
    at_risk : trees under observation in the interval, fractional where some were withdrawn.
    died : share of them that died in it, NaN where none was at risk.
    survival, se : to the end of the interval; Greenwood's standard error for independent trees.
    """

    at_risk: Floats
    died: Floats
    survival: Floats
    se: Floats


def actuarial(
    deaths: ArrayLike, withdrawn: ArrayLike, entering: ArrayLike, share_seen: ArrayLike = 0.5
) -> LifeTable:
    """Actuarial life table: the withdrawn count for the part of the interval in which they were there.

    Parameters
    ----------
    deaths, withdrawn : (..., n_intervals) trees that died, and that left alive, in each interval.
    entering : (...) trees at the start.
    share_seen : part of the interval after which the withdrawn left; a half where the day is not known.

    References
    ----------
    Cutler & Ederer (1958), J. Chronic Diseases 8:699; standard error: Greenwood (1926).

    >>> found = actuarial([456, 226], [0, 39], 2418)
    >>> found.at_risk.tolist(), found.survival.round(4).tolist()
    ([2418.0, 1942.5], [0.8114, 0.717])
    """
    dead, left = np.broadcast_arrays(np.asarray(deaths, float), np.asarray(withdrawn, float))
    start = np.asarray(entering, float)[..., None]
    gone = np.cumsum(dead + left, axis=-1)
    alive = np.concatenate([np.broadcast_to(start, (*dead.shape[:-1], 1)), start - gone[..., :-1]], axis=-1)
    return grouped(alive - left * (1 - np.asarray(share_seen, float)), dead)


def grouped(at_risk: ArrayLike, deaths: ArrayLike) -> LifeTable:
    """Product-limit survival from trees at risk and deaths at each time; those censored leave after the deaths.

    References
    ----------
    Kaplan & Meier (1958), J. Am. Stat. Assoc. 53:457; agrees with R survival 3.5-3 `survfit`.

    >>> grouped([100, 85], [12, 9]).survival.round(3).tolist()
    [0.88, 0.787]
    """
    n, dead = np.asarray(at_risk, float), np.asarray(deaths, float)
    died = np.divide(dead, n, out=np.full(n.shape, np.nan), where=n > 0)
    survival = np.cumprod(1 - died, axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        greenwood = np.cumsum(dead / (n * (n - dead)), axis=-1)
        se = np.where(survival > 0, survival * np.sqrt(greenwood), 0.0)
    return LifeTable(n, died, survival, np.where(np.isnan(survival), np.nan, se))


def limits(table: LifeTable, level: float = 0.95, scale: str = "loglog") -> Limits:
    """Limits of survival for independent trees, on the scale `loglog`, `log` or `plain`; kept within 0 and 1.

    >>> [round(float(x[0]), 3) for x in limits(grouped([100], [12]))]
    [0.798, 0.93]
    """
    s, z = table.survival, special.ndtri((1 + level) / 2)
    with np.errstate(divide="ignore", invalid="ignore"):
        if scale == "plain":
            lower, upper = s - z * table.se, s + z * table.se
        elif scale == "log":
            half = z * table.se / s
            lower, upper = s * np.exp(-half), s * np.exp(half)
        elif scale == "loglog":
            half = z * table.se / (s * np.abs(np.log(s)))
            lower, upper = s ** np.exp(half), s ** np.exp(-half)
        else:
            raise ValueError("scale is loglog, log or plain.")
    return np.clip(lower, 0, 1), np.clip(upper, 0, 1)


def median_age(ends: ArrayLike, survival: ArrayLike) -> float:
    """Age by which half are dead, on the straight line between the ends of two intervals; NaN if more live.

    >>> median_age([1, 2], [0.75, 0.25])
    1.5
    """
    ages = np.concatenate([[0.0], np.asarray(ends, float)])
    share = np.concatenate([[1.0], np.asarray(survival, float)])
    below = np.flatnonzero(share <= 0.5)
    if not below.size:
        return float("nan")
    k = int(below[0])
    step = (share[k - 1] - 0.5) / (share[k - 1] - share[k])
    return float(ages[k - 1] + step * (ages[k] - ages[k - 1]))

"""From the age at which trees were counted to the age of the check: the losses still to come."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from monitoring.estimators.table import Floats

DAYS_PER_YEAR = 365.25
YOUNGEST_DAYS = 90  # a younger planting tells nothing about a yearly rate of loss
FIRST_YEAR_ENDS = (
    330  # days; a count from then on has the first year's loss behind it (an assumption of ours)
)


@dataclass(frozen=True, slots=True)
class Recount:
    """One planting counted twice after its first year.

    Attributes
    ----------
    trees : trees counted at both.
    earlier, later : share alive at each.
    years : time between the counts.
    """

    trees: float
    earlier: float
    later: float
    years: float


@dataclass(frozen=True, slots=True)
class LossRate:
    """How trees go on dying.

    Attributes
    ----------
    yearly_survival : of trees past their first year, alive a year later; None where no planting was counted
        twice after its first year. Then the average rate so far stands for it, first year included: losses
        slow down after the first year (common practice), so that errs towards planting too many.
    n_plantings : plantings counted twice.
    """

    yearly_survival: float | None = None
    n_plantings: int = 0


def rate_after_first_year(recounts: Sequence[Recount]) -> LossRate:
    """Yearly survival after the first year, pooled over plantings by the trees at risk.

    Notes
    -----
    A constant rate between the two counts; half a tree is added to the deaths, so that a rate is never taken
    to be nothing at all, and a rise between counts is read as no loss.

    References
    ----------
    Annualised as in Sheil, Burslem & Alder (1995), J. Ecology 83:331.

    Examples
    --------
    >>> rate = rate_after_first_year([Recount(1000, 0.82, 0.56, 4.0)])
    >>> round(rate.yearly_survival, 3)
    0.909
    """
    used = [row for row in recounts if row.trees * row.earlier > 0 and row.years > 0]
    if not used:
        return LossRate()
    before = sum(row.trees * row.earlier for row in used)
    after = sum(row.trees * row.later for row in used)
    years = sum(row.trees * row.earlier * row.years for row in used) / before
    kept = min(max(after - 0.5, 0.5), before - 0.5) / before if before > 1 else 0.5
    return LossRate(kept ** (1 / years), len(used))


def share_carried(
    survival: ArrayLike, age_days: float | None, check_days: float, rate: LossRate | None = None
) -> Floats:
    """Of the trees alive now, the share expected alive at the check.

    Parameters
    ----------
    survival : array_like
        Share of the planted trees alive now; many values at once.
    age_days, check_days : age now (None unknown) and at the check. [days since planting]
    rate : losses after the first year.

    Returns
    -------
    Array like `survival`; 1 where the check is behind or the age is unknown.

    Notes
    -----
    What is left of the first year goes on at the rate seen so far; the years after it at `rate`, and where that
    is not known also at the rate so far.

    Examples
    --------
    >>> share_carried(0.81, 730.5, 1095.75).round(3).tolist()
    0.9
    >>> share_carried(0.81, 730.5, 1095.75, LossRate(0.95, 3)).round(3).tolist()
    0.95
    >>> share_carried([0.5, 0.9], 800, 700).tolist()
    [1.0, 1.0]
    """
    alive = np.clip(np.asarray(survival, float), 0.0, 1.0)
    if age_days is None or age_days >= check_days:
        return np.ones_like(alive)
    seen = max(age_days, YOUNGEST_DAYS)
    if rate is None or rate.yearly_survival is None:
        return alive ** ((check_days - age_days) / seen)
    year_ends = max(min(DAYS_PER_YEAR, check_days), age_days)
    first = alive ** ((year_ends - age_days) / seen)
    return first * rate.yearly_survival ** ((check_days - year_ends) / DAYS_PER_YEAR)

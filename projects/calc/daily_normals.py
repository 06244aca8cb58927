"""Twelve monthly normals as a smooth year of days whose monthly means come back exactly."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline, PchipInterpolator

Floats = NDArray[np.float64]

DAYS_OF_MONTHS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
_ENDS = np.concatenate([[0], np.cumsum(DAYS_OF_MONTHS)])


def daily_from_monthly(monthly: ArrayLike, *, never_negative: bool = False) -> Floats:
    """Daily values from monthly means of a year of 365 days.

    Parameters
    ----------
    monthly : (12,) the mean of a day in each month, January first (rain: the month's total / its days).
    never_negative : for quantities such as rain: no day falls below 0.

    Returns
    -------
    (365,) values; December runs into January without a step.

    Raises
    ------
    ValueError
        If there are not twelve finite months, or one is negative where none may be.

    Notes
    -----
    The running sum at the ends of the months is joined by a periodic cubic spline (smooth) or a monotone
    one (never negative), and a day is its rise over that day: so each month keeps its mean.

    Examples
    --------
    >>> days = daily_from_monthly([4, 5, 8, 10, 14, 18, 21, 21, 18, 13, 8, 5])
    >>> float(days[:31].mean().round(9)), days.size
    (4.0, 365)
    """
    values = np.asarray(monthly, float)
    if values.shape != (12,) or not np.isfinite(values).all():
        raise ValueError("twelve monthly values are needed, January first.")
    if never_negative and (values < 0).any():
        raise ValueError("a month is below 0 where no value can be.")
    running = np.concatenate([[0.0], np.cumsum(values * DAYS_OF_MONTHS)])
    return _monotone(running) if never_negative else _smooth(running)


def _smooth(running: Floats) -> Floats:
    """A periodic spline through what the running sum departs from its even rise."""
    slope = running[-1] / 365
    departure = running - slope * _ENDS
    departure[-1] = departure[0]  # equal but for rounding, which a periodic spline does not forgive
    spline = CubicSpline(_ENDS, departure, bc_type="periodic")
    return np.diff(spline(np.arange(366))) + slope


def _monotone(running: Floats) -> Floats:
    """A monotone spline over three years in a row, of which the middle one is taken."""
    year = running[-1]
    ends = np.concatenate([_ENDS[:-1] - 365, _ENDS[:-1], _ENDS + 365])
    sums = np.concatenate([running[:-1] - year, running[:-1], running + year])
    return np.maximum(np.diff(PchipInterpolator(ends, sums)(np.arange(366))), 0)

"""How many plots for a mean, such as trees per hectare, and the fewest that written tables ask for."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from monitoring.estimators.table import Floats


def percent_error_plots(
    mean: float, spread: float, error_share: float, *, critical: float = 2.0, population: float | None = None
) -> float:
    """Plots needed before rounding up for a mean known to a share of itself.

    n₀ = (critical · S / (error · mean))², then n₀ / (1 + n₀ / N).

    Parameters
    ----------
    mean, spread : mean of a plot and standard deviation from plot to plot, in one unit.
    error_share : wished half-width as a share of the mean (0.1 for ±10 %).
    critical : normal or t value of the confidence wished.
    population : plots the ground could hold; None for no correction.

    References
    ----------
    Cochran (1977), Sampling Techniques, 3rd ed., section 4.6.

    Examples
    --------
    >>> math.ceil(percent_error_plots(19, 85.6**0.5, 0.10, population=430))
    78
    """
    if mean == 0 or error_share <= 0:
        raise ValueError("mean must differ from 0 and error_share must be above 0.")
    n = (critical * spread / (error_share * mean)) ** 2
    return n if population is None else n / (1 + n / population)


def cdm_plots(
    shares: ArrayLike, spreads: ArrayLike, half_width: float, *, critical: float,
    population: float | None = None,
) -> tuple[float, Floats]:  # fmt: skip
    """Plots for a mean over blocks with the allocation that needs the fewest, before rounding up.

    n = N t² (Σ w s)² / (N E² + t² Σ w s²); n_h = n w_h s_h / Σ w s. Without N the correction falls away.

    Parameters
    ----------
    shares : (n_blocks,) share of the ground in each block; they add up to 1.
    spreads : (n_blocks,) standard deviation from plot to plot in each block.
    half_width : wished half-width in the unit of the spreads.
    critical : t value of the confidence wished.
    population : plots the whole ground could hold; None for no correction.

    Returns
    -------
    tuple of float and (n_blocks,) array
        Plots in all and in each block, both before rounding up.

    References
    ----------
    UNFCCC, A/R methodological tool "Calculation of the number of sample plots for measurements within A/R CDM
    project activities", equations 1 and 2. Equal to Neyman's allocation with the finite-population correction.

    Examples
    --------
    >>> n, parts = cdm_plots([0.4, 0.25, 0.35], [0.12, 0.2, 0.09], 0.03, critical=1.96, population=4000)
    >>> round(n, 4), parts.round(2).tolist()
    (70.1901, [26.02, 27.1, 17.07])
    """
    w, s = np.asarray(shares, float), np.asarray(spreads, float)
    if not math.isclose(w.sum(), 1, abs_tol=1e-6):
        raise ValueError("shares of the blocks must add up to 1.")
    pull = w * s
    correction = 0.0 if population is None else critical**2 * float((w * s**2).sum()) / population
    n = critical**2 * pull.sum() ** 2 / (half_width**2 + correction)
    return float(n), n * pull / pull.sum()


@dataclass(frozen=True, slots=True)
class AreaStep:
    """One line of a table of fewest plots: up to an area, a number plus one more for each further area.

    Areas are in the unit of the table that is copied; `per_area` is infinite where the number is fixed.
    """

    up_to: float
    plots: float
    from_area: float
    per_area: float


# NRCS Technical Note 190-FOR-01 (2018), table 5, circular plots; areas in acres. An editable default.
NRCS_CIRCULAR_ACRES = (AreaStep(5, 5, 0, math.inf), AreaStep(10, 0, 0, 1), AreaStep(math.inf, 10, 10, 5))


def fewest_plots(area: float, steps: Sequence[AreaStep]) -> int:
    """Fewest plots that a written table asks of a block, whatever the precision wished.

    Parameters
    ----------
    area : in the unit of the table.
    steps : lines of the table by rising area. Where a printed table leaves a gap, the step above it holds.

    Examples
    --------
    >>> [fewest_plots(acres, NRCS_CIRCULAR_ACRES) for acres in (4, 8, 30)]
    [5, 8, 14]
    """
    for step in steps:
        if area <= step.up_to:
            return math.ceil(step.plots + (area - step.from_area) / step.per_area - 1e-9)
    raise ValueError("the table has no step for that area.")

"""How densely a block was planted, from trees counted into its plots at planting."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from monitoring.estimators.intervals import student_t
from monitoring.estimators.stocking import flat_limits

SQUARE_METRES_PER_HECTARE = 10_000
LEVEL = 0.95  # two-sided

NO_PLOTS, ONE_PLOT, CENSUS, SPREAD, NO_SPREAD = "no_plots", "one_plot", "census", "spread", "no_spread"
FEWER, WITHIN, MORE = "fewer", "within", "more"


@dataclass(frozen=True, slots=True)
class PlantedDensity:
    """Trees planted per hectare.

    Attributes
    ----------
    n_plots, n_trees : plots, and trees planted in them.
    area_ha : their area. [ha]
    value, se : ratio of totals and its linearised standard error. [per ha]
    lower, upper : limits at `level`; None where one plot, or none, cannot give them. [per ha]
    basis : `spread`, `no_spread` between plots, `census`, `one_plot` or `no_plots`.
    """

    n_plots: int
    n_trees: int
    area_ha: float
    value: float | None
    se: float | None
    lower: float | None
    upper: float | None
    basis: str
    level: float = LEVEL


def planted_density(
    planted: ArrayLike, area_m2: ArrayLike, *, is_census: bool = False, level: float = LEVEL
) -> PlantedDensity:
    """Estimate the density at planting as a ratio of totals over plots.

    Parameters
    ----------
    planted : (n_plots,) trees planted in each plot, 0 included.
    area_m2 : (n_plots,) area of each plot, above 0. [m²]
    is_census : the plots are the whole block, so that there is no sampling error.
    level : two-sided level of the limits.

    Returns
    -------
    PlantedDensity
        D = Σ planted / Σ area; variance n/(n−1) Σ(planted − D area)² / (Σ area)²; Student-t with n − 1 degrees of
        freedom, not below 0. Plots without any spread have Poisson limits (`stocking.flat_limits`).

    Raises
    ------
    ValueError
        If shapes differ, an area is not above 0, or a number is negative.

    References
    ----------
    Cochran (1977), Sampling Techniques, 3rd ed., ch. 6, ratio of means.

    Examples
    --------
    >>> found = planted_density([20, 22, 18, 20], [100.0, 100.0, 100.0, 100.0])
    >>> round(found.value), round(found.se, 1), round(found.lower), round(found.upper)
    (2000, 81.6, 1740, 2260)
    """
    trees, area = np.asarray(planted, float), np.asarray(area_m2, float) / SQUARE_METRES_PER_HECTARE
    if trees.shape != area.shape or trees.ndim != 1:
        raise ValueError("every plot has a number planted and an area.")
    if (trees < 0).any() or not ((area > 0) & np.isfinite(area)).all():
        raise ValueError("an area is above 0, and nobody plants fewer than no trees.")
    n, total, whole = trees.size, int(trees.sum()), float(area.sum())
    if not n:
        return PlantedDensity(0, 0, 0.0, None, None, None, None, NO_PLOTS, level)
    value = total / whole
    if is_census:
        return PlantedDensity(n, total, whole, value, 0.0, value, value, CENSUS, level)
    if n == 1:
        return PlantedDensity(1, total, whole, value, None, None, None, ONE_PLOT, level)
    se = float(np.sqrt(n / (n - 1) * ((trees - value * area) ** 2).sum()) / whole)
    if se <= 1e-12 * max(value, 1.0):
        lower, upper = (float(limit) for limit in flat_limits(total, n, n / whole, level))
        return PlantedDensity(n, total, whole, value, se, lower, upper, NO_SPREAD, level)
    half = float(student_t(n - 1, level)) * se
    return PlantedDensity(n, total, whole, value, se, max(value - half, 0.0), value + half, SPREAD, level)


def beside(found: PlantedDensity, other: float | None) -> str:
    """Where the counted density lies against another number: `fewer`, `within` the limits or `more`; "" unknown.

    >>> found = planted_density([20, 22, 18, 20], [100.0] * 4)
    >>> beside(found, 2500), beside(found, 2100), beside(found, None)
    ('fewer', 'within', '')
    """
    if other is None or found.lower is None or found.upper is None:
        return ""
    if found.basis == CENSUS:  # two counts of everything may differ by what was written down wrong
        return WITHIN if abs(other - found.lower) <= 0.01 * max(other, found.lower) else _side(found, other)
    return WITHIN if found.lower <= other <= found.upper else _side(found, other)


def _side(found: PlantedDensity, other: float) -> str:
    return FEWER if (found.value or 0.0) < other else MORE

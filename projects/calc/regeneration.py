"""Plant, assist or leave: how many young natural trees stand on a hectare, against how many are wanted.

Sources: density from circles, mean count × 10,000 / circle area, is how field guides to forest restoration count
natural regeneration (Elliott, Blakesley and Hardwick 2013); Student's t on circle densities is Freese 1962. No
threshold is built in: how many are wanted is the manager's number.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

SQUARE_METRES_PER_HECTARE = 10_000
LEVEL = 0.90  # two-sided, so that the lower limit alone holds at 95 %

NO_CIRCLES, ONE_CIRCLE, ALL_ALIKE = "no_circles", "one_circle", "all_circles_alike"
LEAVE, ASSIST, ENRICH, PLANT = "leave", "assist", "enrich", "plant"
COUNT_MORE = "count_more_circles"


@dataclass(frozen=True, slots=True)
class Density:
    """Young natural trees per hectare.

    Attributes
    ----------
    n_circles, n_trees : int
        Circles, and young trees counted in them.
    value : float or None
        Mean of the circles. [per ha]
    lower, upper : float or None
        Limits of the interval; None where `reason` says why there is none. [per ha]
    level : float
        Two-sided level of the interval.
    reason : str
        Why there is no interval: `no_circles`, `one_circle`, `all_circles_alike`; else empty.
    """

    n_circles: int
    n_trees: int
    value: float | None
    lower: float | None
    upper: float | None
    level: float
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do, and how many to plant on a hectare by the mean and by the lower limit.

    Attributes
    ----------
    course : str
        `leave`, `assist`, `enrich`, `plant`, or `count_more_circles` where the limit needed is not estimable.
    to_plant_by_mean, to_plant_by_lower : float or None
        Shortfall against the wanted number. [per ha]
    uses_lower : bool
        Whether the course rests on the lower limit.
    is_settled : bool
        Whether the whole interval lies on one side of the wanted number.
    """

    course: str
    to_plant_by_mean: float | None
    to_plant_by_lower: float | None
    uses_lower: bool
    is_settled: bool


def circle_area_m2(radius_m: float) -> float:
    """Area of a circle. [m²]

    >>> round(circle_area_m2(5), 2)
    78.54
    """
    if not (radius_m > 0 and math.isfinite(radius_m)):
        raise ValueError(f"radius_m must be a number above 0, got {radius_m}.")
    return math.pi * radius_m**2


def trees_per_ha(counts: Sequence[float], radii_m: Sequence[float]) -> np.ndarray:
    """Density in every circle, shape (n,). [per ha]

    Raises
    ------
    ValueError
        If the lengths differ, a count is negative or a radius is not above 0.

    >>> trees_per_ha([1, 0], [5, 5]).round(1).tolist()
    [127.3, 0.0]
    """
    if len(counts) != len(radii_m):
        raise ValueError("every circle needs a count and a radius.")
    if any(not (count >= 0 and math.isfinite(count)) for count in counts):
        raise ValueError("a count must be 0 or more.")
    areas = np.array([circle_area_m2(radius) for radius in radii_m], dtype=float)
    return np.asarray(counts, dtype=float) * SQUARE_METRES_PER_HECTARE / areas


def density(counts: Sequence[int], radii_m: Sequence[float], *, level: float = LEVEL) -> Density:
    """Mean density with Student's t on the circles; the lower limit stops at 0.

    One circle gives no interval. Neither do circles that are all alike: without spread between them the formula
    would claim certainty that a handful of circles cannot give.

    >>> found = density([8, 12, 10, 6], [5, 5, 5, 5])
    >>> round(found.value), round(found.lower), round(found.upper)
    (1146, 759, 1533)
    >>> density([9], [5]).reason
    'one_circle'
    """
    per_ha = trees_per_ha(counts, radii_m)
    n, trees = len(per_ha), int(sum(counts))
    if n == 0:
        return Density(0, 0, None, None, None, level, NO_CIRCLES)
    value = float(per_ha.mean())
    if n == 1:
        return Density(n, trees, value, None, None, level, ONE_CIRCLE)
    spread = float(per_ha.std(ddof=1))
    if spread <= 1e-9 * max(value, 1.0):
        return Density(n, trees, value, None, None, level, ALL_ALIKE)
    half = float(stats.t.ppf((1 + level) / 2, n - 1)) * spread / math.sqrt(n)
    return Density(n, trees, value, max(0.0, value - half), value + half, level)


def to_plant_per_ha(wanted_per_ha: float, standing_per_ha: float) -> float:
    """How many are lacking, never below 0. [per ha]

    >>> round(to_plant_per_ha(3100, 9.4 * 10_000 / circle_area_m2(5)))
    1903
    """
    return max(0.0, wanted_per_ha - standing_per_ha)


def advice(
    found: Density, wanted_per_ha: float, *, shortfall_is_costly: bool, is_held_back: bool
) -> Advice | None:
    """Leave, assist, enrich or plant; None without any circle.

    Enough stand: *leave*, or *assist* where weeds, animals or fire hold them back. Too few stand: *enrich* where at
    least half of the wanted number is there already, else *plant*. That half is this service's own rule and only
    names the course; the number to plant follows from the counts.

    Parameters
    ----------
    shortfall_is_costly : bool
        Rest on the lower limit rather than on the mean.
    is_held_back : bool
        Whether something keeps the young trees from growing up.

    Raises
    ------
    ValueError
        If the wanted number is not above 0.

    >>> advice(density([8, 12, 10, 6], [5] * 4), 1000, shortfall_is_costly=False, is_held_back=False).course
    'leave'
    >>> advice(density([8, 12, 10, 6], [5] * 4), 1000, shortfall_is_costly=True, is_held_back=False).course
    'enrich'
    """
    if not (wanted_per_ha > 0 and math.isfinite(wanted_per_ha)):
        raise ValueError(f"wanted_per_ha must be above 0, got {wanted_per_ha}.")
    if found.value is None:
        return None
    lower = 0.0 if found.n_trees == 0 else found.lower
    basis = lower if shortfall_is_costly else found.value
    return Advice(
        course=COUNT_MORE if basis is None else _course(basis, wanted_per_ha, is_held_back),
        to_plant_by_mean=to_plant_per_ha(wanted_per_ha, found.value),
        to_plant_by_lower=None if lower is None else to_plant_per_ha(wanted_per_ha, lower),
        uses_lower=shortfall_is_costly,
        is_settled=_is_settled(found, wanted_per_ha),
    )


def _course(basis: float, wanted: float, is_held_back: bool) -> str:
    if basis >= wanted:
        return ASSIST if is_held_back else LEAVE
    return ENRICH if basis >= wanted / 2 else PLANT


def _is_settled(found: Density, wanted: float) -> bool:
    if found.lower is None or found.upper is None:
        return False
    return found.lower >= wanted or found.upper < wanted

"""Water in the rooting depth: monthly bookkeeping and a daily bucket.

Depths of water in mm throughout; a year is repeated until it closes on itself.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Drier = Callable[[float, float, int], float]  # stored, rain less demand, step: what is left

# Water a metre of soil holds for plants, mm: FAO-56 example 36 and table 19, from memory; editable.
HELD_MM_PER_M = {"coarse": 90.0, "medium": 160.0, "fine": 140.0}
MOST_YEARS = 500
CLOSED_MM = 1e-10


@dataclass(frozen=True, slots=True)
class WaterYear:
    """A year of the balance; each `(n_steps,)`, months or days. [mm]

    Attributes
    ----------
    stored : water in the rooting depth at the end of each step.
    used : actual evapotranspiration.
    deficit : what plants would have used beyond that.
    surplus : what drains or runs off.
    """

    stored: Floats
    used: Floats
    deficit: Floats
    surplus: Floats


def monthly_balance(
    rain_mm: ArrayLike, demand_mm: ArrayLike, capacity_mm: float, decline: str = "exponential"
) -> WaterYear:
    """Thornthwaite–Mather bookkeeping over a year of months, begun full and repeated until it closes.

    Parameters
    ----------
    rain_mm, demand_mm : (n_months,) rain and potential evapotranspiration.
    capacity_mm : water the rooting depth can hold for plants, above 0.
    decline : `exponential`, stored × exp((rain − demand) / capacity), or `linear`, a withdrawal in
        proportion to what is stored.

    Raises
    ------
    ValueError
        If the two differ in length, the capacity is not above 0, or the decline is neither.

    References
    ----------
    Thornthwaite and Mather (1955, 1957), Publications in Climatology 8(1), 10(3); linear:
    McCabe and Markstrom (2007), USGS Open-File Report 2007-1088.
    """
    if decline not in ("exponential", "linear"):
        raise ValueError("decline must be exponential or linear.")
    rain, demand = _pair(rain_mm, demand_mm, capacity_mm)

    def drier(stored: float, net: float, _month: int) -> float:
        left = (
            stored * np.exp(net / capacity_mm)
            if decline == "exponential"
            else stored * (1 + net / capacity_mm)
        )
        return float(max(left, 0.0))

    return _closed_year(rain, demand, capacity_mm, drier)


def daily_balance(
    rain_mm: ArrayLike, demand_mm: ArrayLike, capacity_mm: float, easy_share: float = 0.5
) -> WaterYear:
    """A bucket by days: use falls in proportion once more than the readily available part is gone.

    Parameters
    ----------
    rain_mm, demand_mm : (n_days,) effective rain and crop evapotranspiration.
    capacity_mm : total available water in the rooting depth.
    easy_share : p of FAO-56, the share of it that is readily available (table 22; 0.5 common practice).

    References
    ----------
    FAO-56 eq. 82 to 85.
    """
    if not 0 < easy_share < 1:
        raise ValueError("easy_share must lie between 0 and 1.")
    rain, demand = _pair(rain_mm, demand_mm, capacity_mm)

    def drier(stored: float, net: float, day: int) -> float:
        # Rain of the day is used first, the rest is drawn from the store under stress.
        stress = min(stored / ((1 - easy_share) * capacity_mm), 1.0)
        return max(stored + net * stress, 0.0)

    return _closed_year(rain, demand, capacity_mm, drier)


def readily_available_mm(rooting_depth_m: float, held_mm_per_m: float, easy_share: float = 0.5) -> float:
    """Water a plant draws without stress (FAO-56 eq. 83). [mm]

    >>> readily_available_mm(0.30, 150, 0.5)
    22.5
    """
    return rooting_depth_m * held_mm_per_m * easy_share


def available_mm_per_m(field_capacity: float, wilting_point: float) -> float:
    """Total available water of a metre of soil from volumetric water contents (FAO-56 eq. 82). [mm/m]"""
    if not 0 <= wilting_point < field_capacity <= 1:
        raise ValueError("field capacity must lie above the wilting point, both as shares of volume.")
    return 1000 * (field_capacity - wilting_point)


def effective_rain_mm(monthly_rain_mm: ArrayLike) -> Floats:
    """Part of a month's rain that reaches roots: 0.8 P − 25 above 75 mm, else 0.6 P − 10, not below 0. [mm]

    From memory of an FAO irrigation manual: an editable default.

    >>> effective_rain_mm([50, 100, 150]).tolist()
    [20.0, 55.0, 95.0]
    """
    rain = np.asarray(monthly_rain_mm, float)
    return np.maximum(np.where(rain > 75, 0.8 * rain - 25, 0.6 * rain - 10), 0)


def _pair(rain_mm: ArrayLike, demand_mm: ArrayLike, capacity_mm: float) -> tuple[Floats, Floats]:
    rain, demand = np.asarray(rain_mm, float), np.asarray(demand_mm, float)
    if rain.ndim != 1 or rain.shape != demand.shape or not rain.size:
        raise ValueError("rain and demand must be of one length.")
    if not (capacity_mm > 0 and np.isfinite(capacity_mm)):
        raise ValueError("the capacity must be a depth above 0 mm.")
    if (rain < 0).any() or (demand < 0).any():
        raise ValueError("rain and demand must not be negative.")
    return rain, demand


def _closed_year(rain: Floats, demand: Floats, capacity_mm: float, drier: Drier) -> WaterYear:
    """Repeat the year from a full store until its end meets its beginning."""
    stored = capacity_mm
    for _year in range(MOST_YEARS):
        year = _one_year(stored, rain, demand, capacity_mm, drier)
        if abs(year.stored[-1] - stored) < CLOSED_MM:
            break
        stored = float(year.stored[-1])
    return year


def _one_year(stored: float, rain: Floats, demand: Floats, capacity_mm: float, drier: Drier) -> WaterYear:
    level, used, surplus = np.empty_like(rain), np.empty_like(rain), np.zeros_like(rain)
    for step, net in enumerate(rain - demand):
        if net >= 0:
            surplus[step] = max(stored + net - capacity_mm, 0.0)
            after, used[step] = min(stored + net, capacity_mm), demand[step]
        else:
            after = drier(stored, float(net), step)
            used[step] = rain[step] + stored - after
        level[step] = stored = after
    return WaterYear(level, used, demand - used, surplus)

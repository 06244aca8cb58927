"""When to plant: the days on which stock of a type can take root before its first stress, and why not others.

A day is open when the stock is in the right state, the ground is neither frozen nor dry, the site can be reached,
and enough weeks of root growth lie between it and the first stress: drought, heat or hard frost. Windows are
ranked by those weeks. The same rule finds autumn and spring where winters are hard, autumn and winter where
summers are dry, and the rains in the tropics; no window at all is an answer too.

Days are counted 0 to 364 from 1 January and run on into the next year. All thresholds are common practice and
editable.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from projects.calc.daily_normals import daily_from_monthly
from projects.calc.evapotranspiration import DAYS_OF_MONTHS, hargreaves_of_day
from projects.calc.soil_water import daily_balance

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

DAYS = 365
SOIL_LAG_DAYS = 14  # soil follows the air's mean of the last fortnight; common practice

# Why a day is closed, in the order in which they are told.
SITE_CLOSED = "site_closed"
STOCK_NOT_DORMANT = "stock_not_dormant"
GROUND_FROZEN = "ground_frozen"
SOIL_DRY = "soil_dry"
FROST_HEAVE = "frost_heave"
FROST_AHEAD = "frost_ahead"
HEAT_AHEAD = "heat_ahead"
DROUGHT_AHEAD = "drought_ahead"
TOO_COLD_TO_ROOT = "too_cold_to_root"
REASONS = (
    "", SITE_CLOSED, STOCK_NOT_DORMANT, GROUND_FROZEN, SOIL_DRY, FROST_HEAVE, FROST_AHEAD, HEAT_AHEAD,
    DROUGHT_AHEAD, TOO_COLD_TO_ROOT,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class StockRules:
    """What one stock type asks of a day.

    Attributes
    ----------
    needs_dormancy : planted only while buds rest.
    root_weeks : weeks of root growth wanted before the first stress.
    frost_c : a night colder than this sets young plants back.
    heat_c : a mean daily maximum above this does.
    moist_share : water wanted in the soil on the day, as a share of what it can hold.
    drought_share : below this share roots stop and plants suffer.
    root_c : soil temperature from which roots grow.
    dormant_below_c : mean air temperature below which nursery stock rests.
    can_heave : small plugs that frost lifts out of wet fine soil.
    """

    needs_dormancy: bool = False
    root_weeks: float = 6
    frost_c: float = -6
    heat_c: float = 35
    moist_share: float = 0.5
    drought_share: float = 0.25
    root_c: float = 5
    dormant_below_c: float = 12
    can_heave: bool = False


RULES = {
    "bare_root": StockRules(needs_dormancy=True, root_weeks=4, frost_c=-12, heat_c=32, moist_share=0.6),
    "balled_burlapped": StockRules(needs_dormancy=True, root_weeks=8, frost_c=-12, heat_c=32),
    "container": StockRules(root_weeks=6, frost_c=-8, can_heave=True),
    "cutting": StockRules(needs_dormancy=True, root_weeks=6, frost_c=-10, heat_c=32, moist_share=0.7),
    "wildling": StockRules(root_weeks=6, frost_c=-6, moist_share=0.6),
    "direct_seed": StockRules(root_weeks=6, frost_c=-4, moist_share=0.5, root_c=7),
}


@dataclass(frozen=True, slots=True)
class DayByDay:
    """A year of normals by days; each `(365,)`.

    Attributes
    ----------
    tmin_c, tmax_c : mean daily minimum and maximum. [°C]
    soil_c : soil temperature at rooting depth, roughly. [°C]
    water_share : water in the rooting depth over what it can hold, 0..1.
    cold_night_c : minimum undercut in one year of ten on that day. [°C]
    """

    tmin_c: Floats
    tmax_c: Floats
    soil_c: Floats
    water_share: Floats
    cold_night_c: Floats


def day_by_day(
    tmin_c: ArrayLike,
    tmax_c: ArrayLike,
    rain_mm: ArrayLike,
    latitude_deg: float,
    *,
    capacity_mm: float,
    crop_factor: float = 0.5,
    spread_c: float = 3.5,
    frost_chance: float = 0.1,
) -> DayByDay:
    """Days from twelve monthly normals.

    Parameters
    ----------
    tmin_c, tmax_c, rain_mm : (12,) mean daily minimum and maximum, and the month's rain; January first.
    latitude_deg : degrees north.
    capacity_mm : water that the rooting depth of a young tree can hold for it.
    crop_factor : water use of young trees and weeds over the reference crop; common practice.
    spread_c : standard deviation of a night's minimum about its normal; common practice.
    frost_chance : share of years in which a night may be colder than `cold_night_c`.

    Raises
    ------
    ValueError
        If a series has not twelve months, or a minimum lies above its maximum.
    """
    if any(np.shape(series) != (12,) for series in (tmin_c, tmax_c, rain_mm)):
        raise ValueError("each series of normals needs twelve months, January first.")
    low, high = daily_from_monthly(tmin_c), daily_from_monthly(tmax_c)
    low, high = np.minimum(low, high), np.maximum(low, high)  # smoothed apart, they can cross
    if (np.asarray(tmin_c, float) > np.asarray(tmax_c, float)).any():
        raise ValueError("a month's minimum temperature lies above its maximum.")
    rain = daily_from_monthly(np.asarray(rain_mm, float) / DAYS_OF_MONTHS, never_negative=True)
    demand = crop_factor * hargreaves_of_day(np.arange(1, 366), latitude_deg, low, high)
    water = daily_balance(rain, demand, capacity_mm)
    return DayByDay(
        tmin_c=low,
        tmax_c=high,
        soil_c=_trailing_mean((low + high) / 2, SOIL_LAG_DAYS),
        water_share=water.stored / capacity_mm,
        cold_night_c=low + spread_c * float(special.ndtri(frost_chance)),
    )


def _trailing_mean(values: Floats, days: int) -> Floats:
    around = np.concatenate([values[-(days - 1) :], values])
    return np.convolve(around, np.full(days, 1 / days), mode="valid")


@dataclass(frozen=True, slots=True)
class Window:
    """A run of open days; numbers of days may pass 364 where a window runs over the new year.

    Attributes
    ----------
    opens, closes : first and last open day. [day, 0 = 1 January]
    best : first day of the week with the most root growth ahead.
    root_weeks : weeks of root growth before the first stress, from the best week.
    opens_because, closes_because : why the day before and the day after are closed; empty when none is.
    """

    opens: int
    closes: int
    best: int
    root_weeks: float
    opens_because: str
    closes_because: str

    @property
    def days(self) -> int:
        """Length of the window."""
        return self.closes - self.opens + 1


@dataclass(frozen=True, slots=True)
class PlantingYear:
    """A year seen by one stock type.

    Attributes
    ----------
    windows : ranked, the most weeks of root growth first.
    open : (365,) open days.
    root_weeks : (365,) weeks of root growth from each day to the first stress.
    reason : (365,) index into `REASONS`, 0 where the day is open.
    """

    windows: tuple[Window, ...]
    open: Flags
    root_weeks: Floats
    reason: NDArray[np.int64]


def planting_year(
    year: DayByDay,
    rules: StockRules,
    *,
    site_closed: ArrayLike | None = None,
    wet_fine_soil: bool = False,
    shortest_days: int = 7,
) -> PlantingYear:
    """Open days and windows of one stock type.

    Parameters
    ----------
    year : days of the place.
    rules : what the stock type asks for.
    site_closed : (365,) days on which the site cannot be reached.
    wet_fine_soil : clayey ground that stays wet, where frost lifts small plugs.
    shortest_days : shorter runs of open days are no window.
    """
    stress = _stresses(year, rules)
    weeks, ahead = _root_weeks(year, rules, stress)
    closed = np.zeros(DAYS, bool) if site_closed is None else np.asarray(site_closed, bool)
    mean_c = (year.tmin_c + year.tmax_c) / 2
    checks = {
        SITE_CLOSED: closed,
        STOCK_NOT_DORMANT: rules.needs_dormancy & (mean_c >= rules.dormant_below_c),
        GROUND_FROZEN: year.soil_c < 0.5,
        SOIL_DRY: year.water_share < rules.moist_share,
        FROST_HEAVE: (rules.can_heave and wet_fine_soil) & _soon(_freeze_thaw(year), 8),
    }
    short = weeks < rules.root_weeks
    reason = np.where(short, ahead, 0)
    for name in reversed(checks):
        reason = np.where(checks[name], REASONS.index(name), reason)
    return PlantingYear(_windows(reason, weeks, shortest_days), reason == 0, weeks, reason)


def _stresses(year: DayByDay, rules: StockRules) -> dict[str, Flags]:
    """Days of each stress on young plants; cold is one only for stock set back by it."""
    return {
        FROST_AHEAD: year.cold_night_c < rules.frost_c,
        HEAT_AHEAD: year.tmax_c > rules.heat_c,
        DROUGHT_AHEAD: year.water_share < rules.drought_share,
    }


def _root_weeks(
    year: DayByDay, rules: StockRules, stress: dict[str, Flags]
) -> tuple[Floats, NDArray[np.int64]]:
    """Weeks of root growth from each day to the first stress, and which stress it is."""
    growing = (year.soil_c >= rules.root_c) & (year.water_share >= rules.drought_share)
    any_stress = np.tile(np.logical_or.reduce(list(stress.values())), 2)
    # Days to the next stress, looking a year ahead at most.
    positions = np.where(any_stress, np.arange(2 * DAYS), 2 * DAYS)
    following = np.minimum.accumulate(positions[::-1])[::-1][:DAYS]
    until = np.minimum(following, np.arange(DAYS) + DAYS)
    sums = np.concatenate([[0], np.cumsum(np.tile(growing, 2))])
    weeks = (sums[until] - sums[:DAYS]) / 7
    kinds = np.full(DAYS, REASONS.index(TOO_COLD_TO_ROOT))
    hit = following < np.arange(DAYS) + DAYS
    for name in reversed(stress):
        kinds = np.where(
            hit & stress[name][np.minimum(following, 2 * DAYS - 1) % DAYS], REASONS.index(name), kinds
        )
    return weeks, kinds


def _freeze_thaw(year: DayByDay) -> Flags:
    return (year.cold_night_c < -2) & (year.tmax_c > 0)


def _soon(flags: Flags, weeks: int) -> Flags:
    """Days with a flagged day in the weeks that follow."""
    sums = np.concatenate([[0], np.cumsum(np.tile(flags, 2))])
    start = np.arange(DAYS)
    return sums[start + 7 * weeks] > sums[start]


def _windows(reason: NDArray[np.int64], weeks: Floats, shortest_days: int) -> tuple[Window, ...]:
    runs = _runs(reason == 0)
    found = [
        _window(opens, closes, reason, weeks) for opens, closes in runs if closes - opens + 1 >= shortest_days
    ]
    return tuple(sorted(found, key=lambda window: (-window.root_weeks, window.opens)))


def _runs(flags: Flags) -> list[tuple[int, int]]:
    """First and last day of each run of a circular year; the last may pass the year's end."""
    if flags.all():
        return [(0, DAYS - 1)]
    starts = np.flatnonzero(flags & ~np.roll(flags, 1))
    runs = []
    for start in starts:
        later = np.roll(flags, -start)
        length = int(np.argmin(later)) if not later.all() else DAYS
        runs.append((int(start), int(start) + length - 1))
    return runs


def _window(opens: int, closes: int, reason: NDArray[np.int64], weeks: Floats) -> Window:
    days = np.arange(opens, closes + 1)
    ahead = weeks[days % DAYS]
    span = min(7, days.size)
    smooth = np.convolve(ahead, np.full(span, 1 / span), mode="valid")
    best = int(np.argmax(smooth.round(6)))
    whole = days.size == DAYS
    return Window(
        opens=opens,
        closes=closes,
        best=int(days[best]),
        root_weeks=float(smooth[best]),
        opens_because="" if whole else REASONS[reason[(opens - 1) % DAYS]],
        closes_because="" if whole else REASONS[reason[(closes + 1) % DAYS]],
    )


def frost_date(mean_day: float, sd_days: float, chance: float = 0.9) -> float:
    """Day by which the last frost is past in a share of years, dates taken as normal.

    >>> round(frost_date(110, 10), 1)
    122.8
    """
    return mean_day + sd_days * float(special.ndtri(chance))


def chance_in_seasons(chance: float, seasons: int) -> float:
    """Chance of at least one bad season in several.

    >>> round(chance_in_seasons(0.05, 10), 3)
    0.401
    """
    return 1 - (1 - chance) ** seasons


def degree_days(tmax_c: float, tmin_c: float, base_c: float) -> float:
    """Degree-days of a day above a base, by a single sine (Baskerville and Emin 1969, from memory).

    >>> degree_days(30, 14, 10), round(degree_days(20, 4, 10), 3)
    (12.0, 3.626)
    """
    if not tmin_c <= tmax_c:
        raise ValueError("the minimum must be a number not above the maximum.")
    if tmin_c >= base_c:
        return (tmax_c + tmin_c) / 2 - base_c
    if tmax_c <= base_c:
        return 0.0
    mean, half = (tmax_c + tmin_c) / 2, (tmax_c - tmin_c) / 2
    angle = np.arcsin((base_c - mean) / half)
    return float(((mean - base_c) * (np.pi / 2 - angle) + half * np.cos(angle)) / np.pi)

"""The year a young tree is looked after in: when weeds grow beside it, and how much water it lacks.

Seasons come from monthly normals, so that one or two rainy seasons and both hemispheres need no rule of their own;
without normals the calendar of the latitude stands in and is named as such.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from projects.calc.care_amounts import litres_of_depth, watering_depths
from projects.calc.climate_summary import climate_summary
from projects.calc.daily_normals import DAYS_OF_MONTHS, daily_from_monthly
from projects.calc.evapotranspiration import hargreaves_of_day
from projects.calc.planting_windows import DAYS, day_by_day
from projects.calc.soil_water import HELD_MM_PER_M, effective_rain_mm, readily_available_mm

Floats = NDArray[np.float64]

# Common practice, editable.
GROWS_C, MOIST_SHARE = 8.0, 0.25  # weeds grow on days as warm, in soil as moist, as this
SHORTEST_SEASON, SHORTEST_GAP, LONGEST_SEASON = 30, 21, 240  # days
TOPSOIL_M, EASY_SHARE, CROP_FACTOR = 0.5, 0.5, 0.5
COMMON_YEAR, TROPIC_DEG = 2023, 23.44  # day numbers are those of a year without 29 February
RESTS_DAYS = 45  # waterings further apart than this belong to two dry seasons


@dataclass(frozen=True, slots=True)
class Ground:
    """What is known of the place; twelve normals of each series, January first, or none.

    Attributes
    ----------
    tmin_c, tmax_c, rain_mm : (12,) mean daily minimum and maximum, rain of the month; empty where unknown.
    latitude_deg : degrees north; None where unknown.
    texture, depth_cm : of the soil; the usual where no sample tells.
    """

    tmin_c: Sequence[float] = ()
    tmax_c: Sequence[float] = ()
    rain_mm: Sequence[float] = ()
    latitude_deg: float | None = None
    texture: str = "medium"
    depth_cm: float = 50.0

    @property
    def has_climate(self) -> bool:
        """Whether there is enough to work a year out from."""
        return bool(len(self.rain_mm) and self.latitude_deg is not None)

    @property
    def dry_months(self) -> int | None:
        """Months with less rain in mm than twice their mean temperature in °C."""
        if not len(self.rain_mm):
            return None
        return climate_summary(self.tmin_c, self.tmax_c, self.rain_mm).dry_months


Run = tuple[int, int]  # first day of the year (0 = 1 January), and how many days


def growing_runs(ground: Ground) -> list[Run]:
    """Seasons in which weeds grow beside young trees; (0, 365) where they never stop, none where they never do.

    Without normals: April to September north of the tropics, October to March south of them, all year within
    or where nobody knows where the place lies.

    Raises
    ------
    ValueError
        If a series of normals has not twelve months.

    Examples
    --------
    >>> growing_runs(Ground(latitude_deg=52)), growing_runs(Ground(latitude_deg=-34)), growing_runs(Ground())
    ([(90, 183)], [(273, 182)], [(0, 365)])
    """
    if not ground.has_climate:
        latitude = ground.latitude_deg
        if latitude is None or abs(latitude) < TROPIC_DEG:
            return [(0, DAYS)]
        return [(90, 183)] if latitude > 0 else [(273, 182)]
    held = HELD_MM_PER_M[ground.texture] * min(TOPSOIL_M, ground.depth_cm / 100)
    latitude = float(ground.latitude_deg or 0.0)
    year = day_by_day(ground.tmin_c, ground.tmax_c, ground.rain_mm, latitude, capacity_mm=held)
    grows = ((year.tmin_c + year.tmax_c) / 2 >= GROWS_C) & (year.water_share >= MOIST_SHARE)
    filled = ~_long_runs(~grows, SHORTEST_GAP)[0]
    runs = _long_runs(filled, SHORTEST_SEASON)[1]
    return [part for run in runs for part in _parts(run)]


def _long_runs(flags: NDArray[np.bool_], least: int) -> tuple[NDArray[np.bool_], list[Run]]:
    """Keep runs of a circular year of at least so many days: as flags, and as runs."""
    if flags.all():
        return flags, [(0, DAYS)]
    kept, runs = np.zeros(DAYS, bool), []
    for start in np.flatnonzero(flags & ~np.roll(flags, 1)):
        length = int(np.argmin(np.roll(flags, -start)))
        if length >= least:
            kept[(start + np.arange(length)) % DAYS] = True
            runs.append((int(start), length))
    return kept, runs


def _parts(run: Run) -> list[Run]:
    """A very long season in halves, so that weeds are not left for most of a year."""
    start, length = run
    if length <= LONGEST_SEASON or length >= DAYS:
        return [run]
    half = length // 2
    return [(start, half), ((start + half) % DAYS, length - half)]


def seasons_from(runs: Sequence[Run], begin: date, end: date) -> list[tuple[date, date]]:
    """Seasons that end after `begin` and start before `end`, in order, the first cut at `begin`.

    Where growth never stops, a season is a third of a year counted from `begin`.

    >>> [str(start) for start, _last in seasons_from([(273, 182)], date(2025, 6, 1), date(2027, 6, 1))]
    ['2025-10-01', '2026-10-01']
    """
    if list(runs) == [(0, DAYS)]:
        third = timedelta(days=DAYS // 3)
        n = -(-(end - begin).days // third.days)
        return [(begin + i * third, begin + (i + 1) * third - timedelta(days=1)) for i in range(max(n, 0))]
    found = []
    for year in range(begin.year - 1, end.year + 1):
        for start, length in runs:
            first = day_in(start, year)
            last = first + timedelta(days=length - 1)
            if last > begin and first < end:
                found.append((max(first, begin), last))
    return sorted(found)


def day_in(number: int, year: int) -> date:
    """The calendar day of a day number in a year.

    >>> str(day_in(59, 2024))
    '2024-03-01'
    """
    return (date(COMMON_YEAR, 1, 1) + timedelta(days=number % DAYS)).replace(year=year + number // DAYS)


def day_number(day: date) -> int:
    """0 to 364, 1 January first; 29 February counts as the 28th."""
    same = date(COMMON_YEAR, day.month, min(day.day, 28) if day.month == 2 else day.day)
    return (same - date(COMMON_YEAR, 1, 1)).days


@dataclass(frozen=True, slots=True)
class DrySpell:
    """Waterings that follow one another without a long rest.

    Attributes
    ----------
    first_on, last_on : days of the first and the last.
    times : how many.
    litres : water for one tree in all. [L]
    by_month : litres for one tree by month, (year, month) and litres.
    """

    first_on: date
    last_on: date
    times: int
    litres: float
    by_month: tuple[tuple[tuple[int, int], float], ...]


def dry_spells(ground: Ground, begin: date, rooting_m: float, wetted_m: float) -> list[DrySpell]:
    """What a young tree lacks in the year from `begin`, by the water balance of a mean year.

    The soil starts full, as it is after planting. Each watering fills the rooting depth again over the wetted
    patch. A mean year hides dry years: the balance is a plan, the soil under a finger decides.

    Parameters
    ----------
    ground : with normals and latitude; without them nothing can be said and nothing is returned.
    begin : planting day, or its anniversary.
    rooting_m : depth the roots have reached. [m]
    wetted_m : diameter of the patch that is watered. [m]

    References
    ----------
    FAO-56 eq. 83 and 85; Hargreaves for the demand, 0.5 of it for a young tree (common practice).
    """
    if not ground.has_climate:
        return []
    depths = watering_depths(*_rain_and_use(ground, begin), _easy_mm(ground, rooting_m))
    given = [(begin + timedelta(days=n), depth) for n, depth in enumerate(depths) if depth]
    spells: list[list[tuple[date, float]]] = []
    for day, depth in given:
        if not spells or (day - spells[-1][-1][0]).days > RESTS_DAYS:
            spells.append([])
        spells[-1].append((day, litres_of_depth(depth, wetted_m)))
    return [_spell(waterings) for waterings in spells]


def _easy_mm(ground: Ground, rooting_m: float) -> float:
    return readily_available_mm(
        min(rooting_m, ground.depth_cm / 100), HELD_MM_PER_M[ground.texture], EASY_SHARE
    )


def _rain_and_use(ground: Ground, begin: date) -> tuple[list[float], list[float]]:
    """Effective rain and the tree's use on the 365 days from `begin`. [mm]"""
    low, high = daily_from_monthly(ground.tmin_c), daily_from_monthly(ground.tmax_c)
    low, high = np.minimum(low, high), np.maximum(low, high)
    latitude = float(ground.latitude_deg or 0.0)
    use = CROP_FACTOR * hargreaves_of_day(np.arange(1, DAYS + 1), latitude, low, high)
    rain = daily_from_monthly(effective_rain_mm(ground.rain_mm) / DAYS_OF_MONTHS, never_negative=True)
    order = (day_number(begin) + np.arange(DAYS)) % DAYS
    return rain[order].tolist(), use[order].tolist()


def _spell(waterings: list[tuple[date, float]]) -> DrySpell:
    months: dict[tuple[int, int], float] = {}
    for day, litres in waterings:
        months[day.year, day.month] = months.get((day.year, day.month), 0.0) + litres
    total = sum(litres for _day, litres in waterings)
    return DrySpell(waterings[0][0], waterings[-1][0], len(waterings), total, tuple(sorted(months.items())))

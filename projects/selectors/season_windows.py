"""Windows worked out from the climate come round every year; a plan sees them in the year of its season."""

from calendar import isleap
from collections.abc import Iterable
from copy import copy
from datetime import date

from projects.models import PlantingWindow, Season
from projects.services.windows import COMES_ROUND


def come_round(windows: Iterable[PlantingWindow], seasons: Iterable[Season | None]) -> list[PlantingWindow]:
    """Return windows for the years of some seasons, in the order they open.

    A window worked out from the climate is given once for each season it meets, in that season's year. One that
    meets none, and every window stated by hand for its own dates, stays as it is written.
    """
    wanted = [season for season in seasons if season is not None]
    found: dict[tuple, PlantingWindow] = {}
    for window in windows:
        recurs = window.source in COMES_ROUND and wanted
        moved = [in_year_of(window, season) for season in wanted] if recurs else []
        for each in [row for row in moved if row is not None] or [window]:
            found[each.block_id, each.stock_type, each.opens_on, each.closes_on] = each
    return sorted(found.values(), key=lambda row: (row.opens_on, row.closes_on, row.pk))


def in_year_of(window: PlantingWindow, season: Season) -> PlantingWindow | None:
    """The window in the year in which it shares most days with a season; None where it never shares one."""
    best, most = None, 0
    nearest = season.starts_on.year - window.opens_on.year
    for years in range(nearest - 2, nearest + 3):
        opens, closes = later(window.opens_on, years), later(window.closes_on, years)
        shared = (min(closes, season.ends_on) - max(opens, season.starts_on)).days + 1
        if shared > most:
            best, most = (opens, closes), shared
    if best is None:
        return None
    moved = copy(window)
    moved.opens_on, moved.closes_on = best
    return moved


def later(day: date, years: int) -> date:
    """The same day some years later; 29 February becomes the 28th in years without one."""
    year = day.year + years
    last = 28 if (day.month, day.day) == (2, 29) and not isleap(year) else day.day
    return date(year, day.month, last)

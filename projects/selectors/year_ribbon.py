"""The year of a block as a drawing: strips of weather, water in the soil, and the open days by stock type.

Drawn once wide and once narrow, so that nothing scrolls sideways on a phone. Everything is in the drawing's own
units; the page's style sheet gives ink and size.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from projects import window_words
from projects.calc.planting_windows import DAYS, DayByDay, PlantingYear, StockRules, Window

WIDE, NARROW = 960, 336
TOP, STRIP, POOL, ROW = 22, 27, 84, 38  # heights: months, a strip, the soil water, a stock type
MONTH_STARTS = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334)
ROOTS, REST, FROST, HEAT = "roots-grow", "stock-rests", "hard-frost", "hot-days"
COMMON_YEAR = 2023  # day numbers are those of a year without 29 February


@dataclass(frozen=True)
class Strip:
    """One condition of the year: days on which it holds, as (from, to)."""

    kind: str
    words: str
    y: int
    spans: Sequence[tuple[float, float]]


@dataclass(frozen=True)
class Mark:
    """A letter at one end of a window; the key below the drawing says why it opens or closes there."""

    x: float
    letter: str
    anchor: str


@dataclass(frozen=True)
class Row:
    """Open days of one stock type."""

    label: str
    y: int
    bars: Sequence[tuple[float, float]]  # from and width
    best: Sequence[tuple[float, float]]
    latest: Sequence[float]
    marks: Sequence[Mark]


@dataclass(frozen=True)
class Ribbon:
    """One drawing."""

    width: int
    height: int
    months: Sequence[tuple[float, date]]
    strips: Sequence[Strip]
    water: str
    water_y: int
    today: float
    rows: Sequence[Row]
    is_narrow: bool


Ends = tuple[str, str]  # the side of a window, and why it ends there


def letters_of(years: Iterable[PlantingYear]) -> dict[Ends, str]:
    """A letter for each way in which a window of this year opens or closes, in the order they are met."""
    found: dict[Ends, str] = {}
    for year in years:
        for window in year.windows:
            for end in (("opens", window.opens_because), ("closes", window.closes_because)):
                if end[1] and end not in found:
                    found[end] = "abcdefghijklmnopqrstuvwxyz"[len(found)]
    return found


def ribbon(
    year: DayByDay,
    seen: Mapping[str, PlantingYear],
    labels: Mapping[str, str],
    rules: Mapping[str, StockRules],
    today: date,
    width: int,
) -> Ribbon:
    """Draw a year for the stock types seen."""
    bare, mean_c = rules["bare_root"], (year.tmin_c + year.tmax_c) / 2
    frost_c = rules["container"].frost_c
    flags = {
        (ROOTS, bare.root_c): (year.soil_c >= bare.root_c) & (year.water_share >= bare.drought_share),
        (REST, bare.dormant_below_c): mean_c < bare.dormant_below_c,
        (FROST, frost_c): year.cold_night_c < frost_c,
        (HEAT, bare.heat_c): year.tmax_c > bare.heat_c,
    }
    strips = [
        strip(kind, degrees, days, TOP + 18 + STRIP * n, width)
        for n, ((kind, degrees), days) in enumerate(flags.items())
    ]
    water_y = TOP + STRIP * len(strips) + POOL
    letters = letters_of(seen.values())
    first = water_y + 26
    return Ribbon(
        width=width,
        height=first + ROW * len(seen),
        months=[(across(start, width), date(today.year, n, 1)) for n, start in enumerate(MONTH_STARTS, 1)],
        strips=strips,
        water=water_line(year, width, water_y),
        water_y=water_y,
        today=across(day_number(today), width),
        rows=[
            row(labels[name], first + ROW * n, found, letters, width)
            for n, (name, found) in enumerate(seen.items())
        ],
        is_narrow=width == NARROW,
    )


def strip(kind: str, degrees: float, days: np.ndarray, y: int, width: int) -> Strip:
    words = window_words.strip(kind, degrees, is_empty=not days.any())
    return Strip(kind, words, y, [(x, round(x + wide, 1)) for x, wide in spans(days, width)])


def row(label: str, y: int, found: PlantingYear, letters: Mapping[Ends, str], width: int) -> Row:
    """One stock type: bars, the best week of each window, its latest day, and a letter at each end."""
    best = np.zeros(DAYS, bool)
    ends = [window for window in found.windows if window.closes_because]
    for window in ends:  # where every day is open, none is better
        best[np.arange(window.best, min(window.best + 7, window.closes + 1)) % DAYS] = True
    inside = np.zeros(DAYS, bool)
    for window in found.windows:
        inside[np.arange(window.opens, window.closes + 1) % DAYS] = True
    return Row(
        label=label,
        y=y,
        bars=spans(inside, width),
        best=spans(best, width),
        latest=[across(window.closes % DAYS + 1, width) for window in ends],
        marks=[mark for window in ends for mark in marks(window, letters, width)],
    )


def marks(window: Window, letters: Mapping[Ends, str], width: int) -> list[Mark]:
    """Letters just outside both ends, kept on the drawing."""
    opens, closes = across(window.opens % DAYS, width), across(window.closes % DAYS + 1, width)
    return [
        Mark(max(opens - 3, 9.0), letters["opens", window.opens_because], "end"),
        Mark(min(closes + 4, width - 9.0), letters["closes", window.closes_because], "start"),
    ]


def water_line(year: DayByDay, width: int, floor: int) -> str:
    """Water in the soil as a filled outline, full at the top of its pool."""
    days = np.arange(0, DAYS, 5)
    tall = POOL - 28

    def at(day: int) -> str:
        return f"{round(floor - tall * float(year.water_share[day]), 1)}"

    points = " ".join(f"{across(day, width)},{at(day)}" for day in days)
    return f"0,{floor} {points} {width},{at(DAYS - 1)} {width},{floor}"


def spans(flags: np.ndarray, width: int) -> list[tuple[float, float]]:
    """Runs of days as (from, width); one over the new year is drawn in two."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(int), [0]])))
    pairs = zip(edges[::2], edges[1::2], strict=True)
    return [(across(a, width), round(across(b, width) - across(a, width), 1)) for a, b in pairs]


def across(day: float, width: int) -> float:
    return round(float(day) * width / DAYS, 1)


def day_number(day: date) -> int:
    """0 to 364, 1 January first; 29 February counts as the 28th."""
    same = date(COMMON_YEAR, day.month, min(day.day, 28) if day.month == 2 else day.day)
    return (same - date(COMMON_YEAR, 1, 1)).days

"""When to plant in a block: its windows by stock type, the year behind them, and what is written down."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from projects.calc.geometry import centre
from projects.calc.planting_windows import (
    DAYS,
    REASONS,
    RULES,
    DayByDay,
    PlantingYear,
    Window,
    day_by_day,
    planting_year,
)
from projects.models import Block, PlantingWindow, StockType

WIDTH, TOP, FLOOR, ROW = 960, 24, 120, 30  # of the ribbon, in its own units
MONTH_STARTS = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334)


@dataclass(frozen=True)
class Found:
    """One window of one stock type with its dates in the year to come."""

    window: Window
    opens_on: date
    closes_on: date
    best_on: date


@dataclass(frozen=True)
class StockYear:
    """One stock type's windows, or why there is none."""

    stock_type: str
    label: str
    found: Sequence[Found]
    why_none: Sequence[str]
    bars: Sequence[tuple[float, float]]  # from and width, in ribbon units
    y: int


@dataclass(frozen=True)
class Ribbon:
    """The drawing: paths and bands in its own units."""

    water: str
    frost: Sequence[tuple[float, float]]
    heat: Sequence[tuple[float, float]]
    months: Sequence[tuple[float, date]]
    today: float
    height: int


@dataclass(frozen=True)
class YearOfBlock:
    """Everything the page of windows shows."""

    rows: Sequence[StockYear]
    ribbon: Ribbon


def year_of(block: Block, capacity_mm: float, is_wet: bool, today: date) -> YearOfBlock | None:
    """Work out the year of a block from its site's normals; None where normals or a place are missing.

    Pure arithmetic on one stored record: no query beyond the block and its site.
    """
    normals, latitude = block.site.climate_normals, latitude_of(block)
    if not normals or latitude is None:
        return None
    year = day_by_day(
        normals["mean_minimum_c"],
        normals["mean_maximum_c"],
        normals["rain_mm"],
        latitude,
        capacity_mm=capacity_mm,
    )
    seen = {name: planting_year(year, rules, wet_fine_soil=is_wet) for name, rules in RULES.items()}
    labels = dict(StockType.choices)
    rows = [
        StockYear(
            name,
            str(labels[name]),
            [dated(window, today) for window in found.windows],
            reasons_of(found) if not found.windows else (),
            spans(found.open),
            FLOOR + 16 + number * ROW,
        )
        for number, (name, found) in enumerate(seen.items())
    ]
    return YearOfBlock(rows, ribbon(year, today, len(rows)))


def latitude_of(block: Block) -> float | None:
    """The middle of the block's ground, else of its site."""
    ground = block.grounds.exclude(geometry=None).order_by("-version").first()
    shape = ground.geometry if ground else block.site.boundary
    return centre(shape)[1] if shape else None


def dated(window: Window, today: date) -> Found:
    """The next time a window comes round: the one still open, else the one to come."""
    first = date(today.year - 1, 1, 1)
    opens = first + timedelta(days=window.opens)
    while opens + timedelta(days=window.closes - window.opens) < today:
        opens = next_year(opens)
    best = opens + timedelta(days=window.best - window.opens)
    return Found(window, opens, opens + timedelta(days=window.closes - window.opens), best)


def next_year(day: date) -> date:
    return date(day.year + 1, day.month, min(day.day, 28) if day.month == 2 else day.day)


def reasons_of(found: PlantingYear) -> list[str]:
    """Why no day is open: the reasons that close most days first."""
    codes, days = np.unique(found.reason, return_counts=True)
    order = np.argsort(-days, kind="stable")
    return [REASONS[codes[i]] for i in order if codes[i]]


def spans(flags: np.ndarray) -> list[tuple[float, float]]:
    """Runs of days as (from, width) on the ribbon; one over the new year is drawn in two."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(int), [0]])))
    return [
        (across(a), round(across(b) - across(a), 1)) for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]


def across(day: float) -> float:
    return round(float(day) * WIDTH / DAYS, 1)


def ribbon(year: DayByDay, today: date, n_rows: int) -> Ribbon:
    """Water as an area, hard frost and heat as bands, months as ticks."""
    days = np.arange(0, DAYS, 5)
    points = " ".join(f"{across(day)},{round(FLOOR - 80 * float(year.water_share[day]), 1)}" for day in days)
    closing = f"{WIDTH},{round(FLOOR - 80 * float(year.water_share[-1]), 1)} {WIDTH},{FLOOR}"
    return Ribbon(
        water=f"0,{FLOOR} {points} {closing}",
        frost=spans(year.cold_night_c < -4),
        heat=spans(year.tmax_c > 30),
        months=[(across(start), date(today.year, month, 1)) for month, start in enumerate(MONTH_STARTS, 1)],
        today=across(min(today.timetuple().tm_yday - 1, DAYS - 1)),
        height=FLOOR + 16 + n_rows * ROW,
    )


def written(block: Block) -> list[PlantingWindow]:
    """Windows on record, the next first."""
    return list(block.planting_windows.order_by("closes_on", "stock_type"))

"""When to plant in a block: its windows by stock type, the year behind them, and what is written down."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

from projects.calc.geometry import centre
from projects.calc.planting_windows import (
    DAYS,
    REASONS,
    RULES,
    PlantingYear,
    StockRules,
    Window,
    day_by_day,
    planting_year,
)
from projects.models import Block, PlantingWindow, StockType
from projects.selectors.site_facts import of_samples, samples_for
from projects.selectors.year_ribbon import COMMON_YEAR, MONTH_STARTS, NARROW, WIDE, Ribbon, letters_of, ribbon

USUAL_TEXTURE, USUAL_DEPTH_CM = "medium", 50.0  # common practice, where no sample tells
LEAST_DEPTH_CM, MOST_DEPTH_CM = 10.0, 200.0


@dataclass(frozen=True)
class Soil:
    """What the samples of a block say of its soil, as far as windows ask."""

    texture: str
    depth_cm: float
    is_wet: bool
    n_samples: int


def soil_of(block: Block) -> Soil:
    """Texture, rooting depth and wetness from the block's samples, else its site's, else the usual; one query."""
    samples = samples_for(block)
    found = of_samples(samples)
    texture = str(found.get("soil_texture") or USUAL_TEXTURE)
    depth_cm = min(max(float(found.get("soil_depth_cm") or USUAL_DEPTH_CM), LEAST_DEPTH_CM), MOST_DEPTH_CM)
    is_wet = texture == "fine" and found.get("drainage") in ("poor", "flooded")
    return Soil(texture, round(depth_cm, 1), is_wet, len(samples))


@dataclass(frozen=True)
class Asked:
    """What a year is worked out with: the soil, when the site is shut, and what each stock type asks for.

    `shut_months` are the first and last month in which the site cannot be reached, 1 to 12.
    """

    capacity_mm: float
    is_wet: bool
    shut_months: tuple[int, int] | None = None
    rules: Mapping[str, StockRules] = field(default_factory=lambda: RULES)


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


@dataclass(frozen=True)
class YearOfBlock:
    """Everything the page of windows shows; `letters` name the ends of windows on both drawings."""

    rows: Sequence[StockYear]
    ribbons: Sequence[Ribbon]
    letters: Mapping[tuple[str, str], str]


def year_of(block: Block, asked: Asked, today: date) -> YearOfBlock | None:
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
        capacity_mm=asked.capacity_mm,
    )
    shut = shut_days(asked.shut_months)
    seen = {
        name: planting_year(year, rules, site_closed=shut, wet_fine_soil=asked.is_wet)
        for name, rules in asked.rules.items()
    }
    labels = {name: str(label) for name, label in StockType.choices}
    rows = [
        StockYear(
            name,
            labels[name],
            [dated(window, today) for window in found.windows],
            reasons_of(found) if not found.windows else (),
        )
        for name, found in seen.items()
    ]
    drawn = [ribbon(year, seen, labels, asked.rules, today, width) for width in (WIDE, NARROW)]
    return YearOfBlock(rows, drawn, letters_of(seen.values()))


def shut_days(months: tuple[int, int] | None) -> np.ndarray | None:
    """Days of whole months on which the site cannot be reached; a last month before the first runs over the year."""
    if months is None:
        return None
    starts = np.array([*MONTH_STARTS, DAYS])
    month = np.searchsorted(starts, np.arange(DAYS), side="right")
    first, last = months
    inside = (month >= first) & (month <= last) if first <= last else (month >= first) | (month <= last)
    return np.asarray(inside)


def latitude_of(block: Block) -> float | None:
    """The middle of the block's ground, else of its site."""
    ground = block.grounds.exclude(geometry=None).order_by("-version").first()
    shape = ground.geometry if ground else block.site.boundary
    return centre(shape)[1] if shape else None


def dated(window: Window, today: date) -> Found:
    """The next time a window comes round: the one still open, else the one to come."""
    year = today.year - 1
    while day_of(window.closes, year) < today:
        year += 1
    return Found(window, day_of(window.opens, year), day_of(window.closes, year), day_of(window.best, year))


def day_of(number: int, year: int) -> date:
    """The calendar day of a day number counted from 1 January; one past 364 lies in the year after.

    Numbers are those of a year without 29 February, so that 1 March is 1 March in a leap year too.
    """
    same = date(COMMON_YEAR, 1, 1) + timedelta(days=number % DAYS)
    return same.replace(year=year + number // DAYS)


def reasons_of(found: PlantingYear) -> list[str]:
    """Why no day is open: the reasons that close most days first."""
    codes, days = np.unique(found.reason, return_counts=True)
    order = np.argsort(-days, kind="stable")
    return [REASONS[codes[i]] for i in order if codes[i]]


def written(block: Block) -> list[PlantingWindow]:
    """Windows on record, the next first."""
    return list(block.planting_windows.order_by("closes_on", "stock_type"))

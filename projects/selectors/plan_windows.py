"""When each stock type of a plan may go into each block: what is written down, and the best week behind it."""

from datetime import date, timedelta
from typing import Any

import numpy as np

from projects.calc.geometry import centre
from projects.calc.planting_windows import DAYS, RULES, PlantingYear, day_by_day, planting_year
from projects.calc.soil_water import HELD_MM_PER_M
from projects.models import PlantingWindow, SoilSample, StockType
from projects.selectors.plans import Ground, PlanFrame
from projects.selectors.season_windows import come_round
from projects.selectors.site_facts import of_samples

WEEK = 7
USUAL_TEXTURE, USUAL_DEPTH_CM = "medium", 50.0  # common practice, where no sample tells
LEAST_DEPTH_CM, MOST_DEPTH_CM = 10.0, 200.0


def windows_of_blocks(frame: PlanFrame) -> dict[int, list[dict[str, Any]]]:
    """Windows of the stock types each block's mix uses (of all written ones where it has no mix); two queries."""
    ids = [each.block.pk for each in frame.meant]
    written: dict[int, list[PlantingWindow]] = {pk: [] for pk in ids}
    for window in PlantingWindow.objects.filter(block_id__in=ids).order_by("opens_on", "id"):
        written[window.block_id].append(window)
    seasons = (frame.plan.season, frame.plan.second_season)
    written = {pk: come_round(windows, seasons) for pk, windows in written.items()}
    samples: dict[int, list[SoilSample]] = {}
    for sample in SoilSample.objects.filter(site_id__in=[site.pk for site in frame.sites]).order_by("id"):
        samples.setdefault(sample.site_id, []).append(sample)
    return {
        each.block.pk: windows_of(each, frame, written[each.block.pk], samples.get(each.block.site_id, []))
        for each in frame.meant
    }


def windows_of(
    each: Ground, frame: PlanFrame, written: list[PlantingWindow], samples: list[SoilSample]
) -> list[dict[str, Any]]:
    """Windows still to come, in the order of the year; a best week only where the climate tells one."""
    used = {line.stock_type for line in each.lines} or {window.stock_type for window in written}
    today = frame.days[each.block.site_id]
    years = years_of(each, samples, used)
    labels = dict(StockType.choices)
    found = []
    for window in written:
        if window.stock_type not in used or window.closes_on < today:
            continue
        best = best_week(window, years.get(window.stock_type))
        found.append(
            {
                "stock_type": window.stock_type, "stock_words": str(labels[window.stock_type]),
                "opens_on": window.opens_on.isoformat(), "closes_on": window.closes_on.isoformat(),
                "opens_because": window.opens_because, "closes_because": window.closes_because,
                "best_on": best.isoformat() if best else None, "source": window.source,
            }
        )  # fmt: skip
    return found


def years_of(each: Ground, samples: list[SoilSample], used: set[str]) -> dict[str, PlantingYear]:
    """The year as each stock type sees it; empty without normals or a place."""
    site, shape = each.block.site, (each.ground.geometry if each.ground else None) or each.block.site.boundary
    normals = site.climate_normals
    if not normals or not shape:
        return {}
    own = [row for row in samples if row.block_id == each.block.pk]
    soil = of_samples(own or [row for row in samples if row.block_id is None])
    texture = str(soil.get("soil_texture") or USUAL_TEXTURE)
    is_wet = texture == "fine" and soil.get("drainage") in ("poor", "flooded")
    depth_cm = min(max(float(soil.get("soil_depth_cm") or USUAL_DEPTH_CM), LEAST_DEPTH_CM), MOST_DEPTH_CM)
    year = day_by_day(
        normals["mean_minimum_c"], normals["mean_maximum_c"], normals["rain_mm"], centre(shape)[1],
        capacity_mm=HELD_MM_PER_M[texture] * depth_cm / 100,
    )  # fmt: skip
    return {
        name: planting_year(year, RULES[name], wet_fine_soil=is_wet) for name in sorted(used & RULES.keys())
    }


def best_week(window: PlantingWindow, year: PlantingYear | None) -> date | None:
    """First day of the week inside a written window with the most root growth ahead.

    None where the climate is not known, gives the stock no open week there, or is open all year, no week being better.
    """
    length = (window.closes_on - window.opens_on).days + 1
    if year is None or length < WEEK or length > DAYS or year.open.all():
        return None
    first = min(window.opens_on.timetuple().tm_yday, DAYS) - 1
    days = (first + np.arange(length)) % DAYS
    week = np.lib.stride_tricks.sliding_window_view(days, WEEK)
    ahead = np.where(year.open[week].all(axis=1), year.root_weeks[week].mean(axis=1).round(6), -1.0)
    best = int(np.argmax(ahead))
    return window.opens_on + timedelta(days=best) if ahead[best] >= 0 else None

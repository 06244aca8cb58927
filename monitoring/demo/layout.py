"""Survival plots of a block: where each lies and how many of each planting stand in it."""

import math
from dataclasses import dataclass

import numpy as np

from monitoring.calc.plot_frames import Plan, draw
from monitoring.demo.draws import stream
from monitoring.demo.ground import metres, point_inside, polygon
from monitoring.demo.shapes import BlockPlan, Farm, SitePlan

JITTER = 2  # planting spots are not perfectly even, so a circle holds a few more or fewer


@dataclass(frozen=True)
class PlotDraw:
    """One survival plot with what was first planted in it; a replacement comes later and stands at 0."""

    name: str
    seed: int
    point_m: tuple[float, float] | None
    planted: tuple[int, ...]
    farm: Farm | None = None
    has_baseline: bool = True


def lay_out(slug: str, block: BlockPlan, seed: int, site: SitePlan) -> tuple[PlotDraw, ...]:
    """Draw the plots of a block."""
    if block.shape == "holding":
        return farms_drawn(slug, block, seed)
    initials = "".join(word[0].upper() for word in block.name.split()[:2])
    drawn = stored_draw(block, site, seed) if block.drawn_by else []
    draws = []
    for number in range(1, block.plots + 1):
        name = f"{initials}-{number:02d}"
        rng = stream(seed, slug, block.name, name, "layout")
        point = None if block.shape == "whole_block" else point_inside(rng, block.corners_m)
        point, share = drawn[number - 1] if drawn else (point, 1.0)
        draws.append(
            PlotDraw(
                name, seed, point, planted_in_plot(rng, block, number, share),
                has_baseline=number <= block.plots - block.loose_baselines,
            )
        )  # fmt: skip
    return tuple(draws)


def stored_draw(block: BlockPlan, site: SitePlan, seed: int) -> list[tuple[tuple[float, float], float]]:
    """The centres of a draw as the service makes it, and the share of each plot inside the block. [m, share]"""
    frame = polygon(site.latitude, site.longitude, block.corners_m)
    found = draw(frame, plan_of(block, seed))
    return [
        (
            metres(site.latitude, site.longitude, point["latitude"], point["longitude"]),
            point["share_inside"],
        )
        for point in found.points
    ]


def plan_of(block: BlockPlan, seed: int) -> Plan:
    return Plan(block.drawn_by, block.plots, block.spares, seed, radius_m=block.radius_m or 0.0)


def farms_drawn(slug: str, block: BlockPlan, seed: int) -> tuple[PlotDraw, ...]:
    """Draw holdings from the list with equal chance; everything on a drawn farm is counted."""
    rng = stream(seed, slug, block.name, "list")
    chosen = sorted(rng.choice(len(block.farms), size=block.plots, replace=False).tolist())
    draws = []
    for number in chosen:
        farm = block.farms[number]
        planted = tuple(farm.trees.get(planting.lot, 0) for planting in block.plantings)
        draws.append(PlotDraw(farm.label, seed, (farm.east_m, farm.north_m), planted, farm))
    return tuple(draws)


def planted_in_plot(
    rng: np.random.Generator, block: BlockPlan, number: int, share_inside: float = 1.0
) -> tuple[int, ...]:
    """Draw how many of each first planting stand in a plot; a census holds all of them."""
    first = [0 if planting.replaces else planting.quantity for planting in block.plantings]
    if block.shape == "whole_block":
        return tuple(first)
    shares = np.array(first) / sum(first)
    return tuple(
        int(n) for n in rng.multinomial(round(spots_in_plot(rng, block, number) * share_inside), shares)
    )


def spots_in_plot(rng: np.random.Generator, block: BlockPlan, number: int) -> int:
    """Draw how many planting spots a plot holds; in a gap hardly any."""
    if block.spots is not None:
        return block.spots
    if number <= round(block.bare_plots * block.plots):
        return int(rng.integers(1, 6))
    area_m2 = math.pi * (block.radius_m or 0.0) ** 2
    spots = round(area_m2 / ((block.row_spacing_m or 1.0) * (block.in_row_spacing_m or 1.0)))
    return spots + int(rng.integers(-JITTER, JITTER + 1))

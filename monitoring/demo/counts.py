"""What crews see: the fate of every planting of a plot, round by round, and how it falls into the sheet's marks."""

from dataclasses import dataclass, field

import numpy as np

from monitoring.demo.draws import ICC, plot_share, some_of, split, stream
from monitoring.demo.layout import PlotDraw
from monitoring.demo.shapes import BlockPlan, Planting

SPOT_NOT_FOUND = 0.06  # share of dead trees whose spot cannot be found any more
STEM_STANDS = 0.6  # share of the other dead whose stem still stands
MEASURED = 5  # heights of the first living trees


@dataclass(frozen=True)
class LineCount:
    """One planting in one plot at one round."""

    planting: Planting
    planted: int
    removed: int
    newly_removed: int
    alive: int
    dead_stem: int
    empty_spot: int
    not_found: int
    resprout: int
    origin_uncertain: int
    seedlings: int | None
    signs: dict[str, int]
    heights_cm: tuple[int, ...]


@dataclass(frozen=True)
class NaturalCount:
    """Natural seedlings of one species and height class in a plot."""

    species: str
    height_class: str
    count: int
    capped: bool


@dataclass(frozen=True)
class PlotRound:
    """Everything seen in one plot at one round."""

    plot: PlotDraw
    round: str
    lines: tuple[LineCount, ...]
    natural: tuple[NaturalCount, ...]


@dataclass
class Fate:
    """How one planting of one plot stands between two rounds."""

    planted: int
    alive: int = 0
    removed: int = 0
    share: float | None = None  # the true share the last round was drawn at
    thinned: bool = False
    resprouted: int = 0
    lost_spots: int | None = None  # of a rebuilt baseline: spots that could not be seen from the beginning
    newly_removed: int = field(default=0)

    @property
    def dead(self) -> int:
        """Trees neither alive nor taken out."""
        return self.planted - self.removed - self.alive


def rounds_of(slug: str, block: BlockPlan, plot: PlotDraw, seed: int) -> tuple[PlotRound, ...]:
    """Follow one plot through its rounds."""
    rng = stream(seed, slug, block.name, plot.name, "fates")
    icc = 0.0 if block.shape == "whole_block" else ICC
    fates = [Fate(planted) for planted in plot.planted]
    found = []
    for key in block.rounds:
        quantile = float(rng.uniform())
        replant(rng, block, fates, key)
        lines = []
        for planting, fate in zip(block.plantings, fates, strict=True):
            if key in planting.survival:
                live_on(rng, planting, fate, key, quantile, icc)
                if fate.planted:
                    lines.append(seen(rng, block, planting, fate, key))
        found.append(PlotRound(plot, key, tuple(lines), natural(rng, block, key)))
    return tuple(found)


def replant(rng: np.random.Generator, block: BlockPlan, fates: list[Fate], key: str) -> None:
    """Plant replacements into the gaps that stood open before this round."""
    codes = [planting.lot for planting in block.plantings]
    for planting, fate in zip(block.plantings, fates, strict=True):
        if planting.replaces and fate.share is None and key in planting.survival:
            before = fates[codes.index(planting.replaces)]
            old = block.plantings[codes.index(planting.replaces)]
            gaps = old.quantity * (1.0 - (before.share or 0.0))
            fate.planted = some_of(rng, before.dead, planting.quantity / gaps)


def live_on(
    rng: np.random.Generator, planting: Planting, fate: Fate, key: str, quantile: float, icc: float
) -> None:
    """Carry a planting on to a round: thinning first, then deaths, or resprouting where the share rises."""
    share, before = planting.survival[key], fate.share
    fate.resprouted = fate.newly_removed = 0
    if planting.thinned and not fate.thinned and planting.thinned[0].year == int(key[:4]):
        fate.newly_removed = some_of(rng, fate.alive, planting.thinned[1])
        fate.alive, fate.removed, fate.thinned = fate.alive - fate.newly_removed, fate.newly_removed, True
    if before is None:
        fate.alive = some_of(rng, fate.planted, plot_share(share, quantile, icc))
    elif share <= before:
        fate.alive = some_of(rng, fate.alive, plot_share(share / before, quantile, icc))
    else:
        fate.resprouted = some_of(rng, fate.dead, (share - before) / (1.0 - before))
        fate.alive += fate.resprouted
    fate.share = share


def seen(rng: np.random.Generator, block: BlockPlan, planting: Planting, fate: Fate, key: str) -> LineCount:
    """Return the line a crew writes."""
    overlooked = some_of(rng, fate.alive, planting.overlooked)
    alive = fate.alive - overlooked
    lost_spots = spots_lost(rng, planting, fate)
    stems = some_of(rng, fate.dead - lost_spots, STEM_STANDS)
    is_seed = planting.unit == "seed_spot"
    return LineCount(
        planting=planting, planted=fate.planted, removed=fate.removed, newly_removed=fate.newly_removed,
        alive=alive, dead_stem=stems, empty_spot=fate.dead - lost_spots - stems, not_found=overlooked + lost_spots,
        resprout=min(fate.resprouted, alive), origin_uncertain=some_of(rng, alive, block.origin_uncertain),
        seedlings=alive + int(rng.poisson(planting.seedlings * alive)) if is_seed else None,
        signs=split(rng, stems, planting.losses), heights_cm=heights(rng, planting, alive, key),
    )  # fmt: skip


def spots_lost(rng: np.random.Generator, planting: Planting, fate: Fate) -> int:
    """Draw how many spots of dead trees are not found; a baseline rebuilt from visible spots never held them."""
    if planting.baseline != "visible_spots":
        return some_of(rng, fate.dead, SPOT_NOT_FOUND)
    if fate.lost_spots is None:
        fate.lost_spots = some_of(rng, fate.dead, SPOT_NOT_FOUND)
    return fate.lost_spots


def heights(rng: np.random.Generator, planting: Planting, alive: int, key: str) -> tuple[int, ...]:
    """Draw the heights of the first living trees. [cm]"""
    start, growth = planting.height_cm
    years = max(1, int(key[:4]) - planting.days[0][0].year + (planting.days[0][0].month < 7))
    mean = start + growth * years
    drawn = rng.normal(mean, 0.18 * mean, size=min(alive, MEASURED))
    return tuple(int(max(2, round(height))) for height in drawn)


def natural(rng: np.random.Generator, block: BlockPlan, key: str) -> tuple[NaturalCount, ...]:
    """Draw the natural seedlings of a plot; a crew stops at 20 and writes “20+”."""
    found = []
    for row in block.regeneration:
        for height_class, mean in (("lower", row.lower), ("upper", row.upper)):
            count = int(rng.poisson(mean)) if key in row.rounds else 0
            if count:
                found.append(NaturalCount(row.species, height_class, min(count, 20), count > 20))
    return tuple(found)

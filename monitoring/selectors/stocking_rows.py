"""Plots of a round with their area and living acceptable trees, planted and natural."""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any
from uuid import UUID

import numpy as np

from monitoring.estimators.rows import rounded
from monitoring.estimators.stocking_table import StockingTable, living_planted
from monitoring.estimators.table import Ints
from monitoring.models import HeightClass, RegenerationLine, Shape
from monitoring.selectors.count_rows import CountingVisit
from monitoring.selectors.round_counts import BlockRecord, RoundCounts
from species.access import standing_ranges
from species.models import RangeStatus

SQUARE_METRES_PER_HECTARE = 10_000.0


def stocking_table(counts: RoundCounts) -> StockingTable:
    """One row per visited plot whose area is known.

    Acceptable planted trees: alive, capped at what was planted, one to a seed spot, none of a species invasive
    in the block's country. Acceptable natural trees: those of the upper height class, which stands for the
    minimum height; species invasive there never count.
    """
    blocks = {block.id: block for block in counts.blocks}
    areas = np.array([plot_area_m2(visit, blocks[visit.block_id]) for visit in counts.visits], dtype=float)
    planted, natural = planted_living(counts), natural_living(counts, areas)
    known = np.flatnonzero(areas > 0)
    code = {block.id: number for number, block in enumerate(counts.blocks)}
    facts = counts.table.blocks
    return StockingTable.build(
        block=[code[counts.visits[plot].block_id] for plot in known],
        area_ha=areas[known] / SQUARE_METRES_PER_HECTARE,
        planted=planted[known],
        natural=natural[known],
        net_area_ha=facts.net_area_ha,
        target_per_ha=[np.nan if b.target_per_ha is None else b.target_per_ha for b in counts.blocks],
        plots=facts.plots,
        is_census=facts.is_census,
        without_area=np.bincount(
            np.array([code[visit.block_id] for visit in counts.visits], np.int64)[~(areas > 0)],
            minlength=len(counts.blocks),
        ),
        labels={name: counts.table.labels[name] for name in ("project", "block")},
    )


def plots_below_target(counts: RoundCounts, block_uid: str) -> list[dict[str, Any]]:
    """Plots of a block that hold fewer living trees than its target asks of their area, the emptiest first."""
    target = next((b.target_per_ha for b in counts.blocks if str(b.uid) == block_uid), None)
    if target is None:
        return []
    areas = np.array([plot_area_m2(visit, block_of(counts, visit)) for visit in counts.visits], dtype=float)
    living = planted_living(counts) + natural_living(counts, areas)
    found = []
    for visit, area, trees in zip(counts.visits, areas.tolist(), living.tolist(), strict=True):
        wanted = target * area / SQUARE_METRES_PER_HECTARE
        if area > 0 and str(block_of(counts, visit).uid) == block_uid and trees < wanted - 1e-9:
            found.append({"plot": str(visit.plot_uid), "living": trees, "wanted": rounded(wanted)})
    return sorted(found, key=lambda row: (row["living"] / row["wanted"], row["plot"]))


def block_of(counts: RoundCounts, visit: CountingVisit) -> BlockRecord:
    return next(block for block in counts.blocks if block.id == visit.block_id)


def plot_area_m2(visit: CountingVisit, block: BlockRecord) -> float:
    """Horizontal area as stated, else from the plot's measures; 0 where it cannot be known."""
    if visit.area_m2:
        return visit.area_m2
    if visit.shape == Shape.CIRCLE and visit.radius_m:
        return math.pi * visit.radius_m**2
    if visit.shape == Shape.RECTANGLE and visit.length_m and visit.width_m:
        return visit.length_m * visit.width_m
    if visit.shape == Shape.WHOLE_BLOCK and block.net_area_ha:
        return block.net_area_ha * SQUARE_METRES_PER_HECTARE
    return 0.0


def planted_living(counts: RoundCounts) -> Ints:
    """Living planted trees of each plot, none of a species invasive there."""
    alive = np.where(invasive_rows(counts), 0, living_planted(counts.table))
    return np.bincount(counts.table.plot, alive, len(counts.visits)).astype(np.int64)


def invasive_rows(counts: RoundCounts) -> np.ndarray:
    """Rows whose species is invasive in the country of their block."""
    by_country = invasive_species(
        {block.country_code for block in counts.blocks}, counts.survey_round.organisation.uid
    )
    ids = np.array([counts.species_ids[slug] for slug in counts.table.labels["species"]], dtype=np.int64)
    country = np.array([block.country_code for block in counts.blocks])[counts.table.block]
    found = np.zeros(counts.table.block.size, dtype=bool)
    for code, species in by_country.items():
        codes = np.flatnonzero(np.isin(ids, sorted(species)))
        found |= (country == code) & np.isin(counts.table.species, codes)
    return found


def invasive_species(countries: Iterable[str], organisation_uid: UUID) -> Mapping[str, set[int]]:
    """Species ids the organisation holds invasive in each country."""
    found: dict[str, set[int]] = defaultdict(set)
    rows = standing_ranges(organisation_uid).filter(
        country_code__in=sorted(set(countries)), status=RangeStatus.Status.INVASIVE, region=""
    )
    for country, species in rows.values_list("country_code", "species_id"):
        found[country].add(species)
    return found


def natural_living(counts: RoundCounts, areas: np.ndarray) -> Ints:
    """Acceptable natural trees of each plot; a subplot's count is raised to the plot, whole trees only."""
    plot_of = {visit.id: plot for plot, visit in enumerate(counts.visits)}
    organisation_uid = counts.survey_round.organisation.uid
    invasive = invasive_species({block.country_code for block in counts.blocks}, organisation_uid)
    found = np.zeros(len(counts.visits), dtype=np.int64)
    lines = RegenerationLine.objects.filter(
        visit__round=counts.survey_round, visit__is_counting=True, height_class=HeightClass.UPPER
    ).order_by("visit_id", "id")
    columns = ("visit_id", "species_id", "count", "subplot_area_m2")
    for visit_id, species_id, count, subplot in lines.values_list(*columns):
        plot = plot_of.get(visit_id)
        if plot is None or species_id in invasive.get(block_of(counts, counts.visits[plot]).country_code, ()):
            continue
        found[plot] += int(count * areas[plot] / subplot) if subplot and areas[plot] else count
    return found

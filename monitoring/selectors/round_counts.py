"""A round as the estimators take it: a count table with its blocks, ages and log number."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from monitoring.estimators.table import BlockFacts, CountTable, Ints
from monitoring.models import PlotStatus, SurveyRound
from monitoring.selectors import count_rows
from monitoring.selectors.count_columns import Columns, count_columns
from monitoring.selectors.count_rows import CountingVisit
from monitoring.selectors.round_facts import (
    BlockRecord,
    CohortRecord,
    blocks_of_round,
    cohorts_of_blocks,
    revision_of_round,
)
from projects.models import Unit
from species.models import Species

UNKNOWN_AGE = -(2**31)
TAKEN_BY_TABLE = (
    "planted", "alive", "dead_stem", "empty_spot", "not_found", "not_assessed", "removed", "unit", "flagged",
    "block", "plot", "species", "cohort", "lot", "stock_type", "nursery", "baseline",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class RoundCounts:
    """Everything one round (or one block of it) is estimated from.

    Attributes
    ----------
    table : counts; labels are uids (slugs for species, codes for stock types).
    age_days, season : (n_rows,) days from the mean planting date (`UNKNOWN_AGE`) and planting season (−1).
    source : (n_rows,) row id of the baseline counted, the first where a row counts several; −1 for none.
    blocks : facts of each block, in the order of its code; `ledger` (n_blocks,) trees planted, −1 unknown.
    visits : the visits that enter, in the order of the plot codes; `missing` those of plots not reached;
        `outside` those of plots that nobody drew for the round.
    """

    survey_round: SurveyRound
    table: CountTable
    age_days: Ints
    season: Ints
    source: Ints
    blocks: tuple[BlockRecord, ...]
    ledger: Ints
    cohorts: Mapping[int, CohortRecord]
    species_ids: Mapping[str, int]
    visits: tuple[CountingVisit, ...]
    missing: tuple[CountingVisit, ...]
    outside: tuple[CountingVisit, ...]
    revision: int


def round_counts(survey_round: SurveyRound, block_id: int | None = None) -> RoundCounts:
    """Read a round, or one block of it, in a fixed number of queries."""
    every = count_rows.counting_visits(survey_round.pk, block_id)
    visits = [v for v in every if v.enters and v.status != PlotStatus.MISSING]
    blocks = blocks_of_round(survey_round.pk, {v.block_id for v in visits}, block_id)
    cohorts = cohorts_of_blocks([b.id for b in blocks], last_days(survey_round, blocks, visits))
    raw = count_columns(
        visits,
        count_rows.current_baselines(survey_round.pk, block_id),
        count_rows.lines_of_baselines(survey_round.pk, block_id),
        count_rows.removed_by_baseline(survey_round.pk, block_id),
        count_rows.loose_lines(survey_round.pk, block_id),
    )
    seen = set(np.unique(raw["cohort"]).tolist())
    species = dict(
        Species.objects.filter(id__in=np.unique(raw["species"]).tolist()).values_list("slug", "id")
    )
    coded, labels = with_codes(raw, visits, blocks, cohorts, species)
    ledger = ledger_of_blocks(blocks, cohorts, seen, Unit.TREE)
    facts = block_facts(
        blocks, visits, ledger, ledger_of_blocks(blocks, cohorts, seen, Unit.SEED_SPOT), labels
    )
    labels["project"] = (str(survey_round.project.uid),)
    weights = np.array([visit.plot_weight or 1.0 for visit in visits], dtype=float)
    return RoundCounts(
        survey_round=survey_round,
        table=CountTable.build(
            **{name: coded[name] for name in TAKEN_BY_TABLE},
            plot_weight=weights[coded["plot"]], blocks=facts, labels=labels,
        ),
        age_days=coded["age_days"],
        season=coded["season"],
        source=coded["source"],
        blocks=tuple(blocks),
        ledger=ledger,
        cohorts=cohorts,
        species_ids=species,
        visits=tuple(visits),
        missing=tuple(v for v in every if v.enters and v.status == PlotStatus.MISSING),
        outside=tuple(v for v in every if not v.enters),
        revision=revision_of_round(survey_round.pk, block_id),
    )  # fmt: skip


# --- codes ----------------------------------------------------------------------------------
class Codes:
    """Names to codes, in the sorted order of the names; −1 for none."""

    def __init__(self, names: Iterable[Any]) -> None:
        self.names = tuple(sorted({str(name) for name in names if name is not None and name != ""}))
        self.of = {name: code for code, name in enumerate(self.names)}

    def code(self, name: Any) -> int:
        return self.of.get(str(name), -1)


def with_codes(
    raw: Columns,
    visits: Sequence[CountingVisit],
    blocks: Sequence[BlockRecord],
    cohorts: Mapping[int, CohortRecord],
    species: Mapping[str, int],
) -> tuple[Columns, dict[str, tuple[str, ...]]]:
    """Replace row ids by codes in the order of the names, and put rows in an order free of row ids."""
    plot_of = {visit.id: plot for plot, visit in enumerate(visits)}
    coded = {name: raw[name] for name in TAKEN_BY_TABLE if name in raw}
    coded["baseline"], coded["plot"] = raw["rebuilt"], mapped(raw["visit"], plot_of)
    block_codes = {block.id: code for code, block in enumerate(blocks)}
    coded["block"] = take([block_codes[visit.block_id] for visit in visits], coded["plot"])
    coded["flagged"] = take([int(visit.doubted) for visit in visits], coded["plot"])
    labels = {"block": tuple(str(block.uid) for block in blocks)}
    labels["species"] = tuple(sorted(species))
    coded["species"] = mapped(
        raw["species"], {species[slug]: code for code, slug in enumerate(labels["species"])}
    )
    for name, read in COHORT_LABELS.items():
        codes = Codes(read(cohort) for cohort in cohorts.values())
        labels[name] = codes.names
        coded[name] = mapped(raw["cohort"], {pk: codes.code(read(c)) for pk, c in cohorts.items()})
    coded["age_days"] = ages(raw["cohort"], coded["plot"], visits, cohorts)
    order = in_order(coded)
    coded["source"] = raw["baseline"]  # after the order, which no row id may touch
    return {name: column[order] for name, column in coded.items()}, labels


def in_order(coded: Columns) -> Ints:
    """Rows by block, plot and species; what is left equal by every other column."""
    leading = (coded["species"], coded["plot"], coded["block"])
    order = np.lexsort(leading)
    alike = np.ones(max(order.size - 1, 0), bool)
    for column in leading:
        alike &= column[order][1:] == column[order][:-1]
    return np.lexsort([*(coded[name] for name in sorted(coded)), *leading]) if alike.any() else order


COHORT_LABELS: dict[str, Callable[[CohortRecord], Any]] = {
    "cohort": lambda cohort: cohort.uid,
    "lot": lambda cohort: cohort.lot_uid,
    "stock_type": lambda cohort: cohort.stock_type,
    "nursery": lambda cohort: cohort.nursery_uid,
    "season": lambda cohort: cohort.season_uid,
}


def mapped(ids: Ints, codes: Mapping[int, int]) -> Ints:
    """Look up each id; −1 where it has no code."""
    if not codes:
        return np.full(ids.size, -1, dtype=np.int64)
    known = np.array(sorted(codes), dtype=np.int64)
    values = np.array([codes[pk] for pk in known.tolist()], dtype=np.int64)
    place = np.minimum(np.searchsorted(known, ids), known.size - 1)
    return np.where(known[place] == ids, values[place], -1)


def take(values: Sequence[int], index: Ints) -> Ints:
    return np.array(values, dtype=np.int64)[index]


def ages(
    cohort: Ints, plot: Ints, visits: Sequence[CountingVisit], cohorts: Mapping[int, CohortRecord]
) -> Ints:
    """Days from the mean planting date of each row's cohort to its visit."""
    planted = {pk: c.mean_planted_day for pk, c in cohorts.items() if c.mean_planted_day is not None}
    day = mapped(cohort, planted)
    observed = take([visit.observed_on.toordinal() for visit in visits], plot)
    return np.where(day >= 0, observed - day, UNKNOWN_AGE)


# --- blocks ---------------------------------------------------------------------------------
def block_facts(
    blocks: Sequence[BlockRecord],
    visits: Sequence[CountingVisit],
    ledger: Ints,
    spots: Ints,
    labels: dict[str, tuple[str, ...]],
) -> BlockFacts:
    sites = Codes(block.site_uid for block in blocks)
    labels["site"] = sites.names
    return BlockFacts.build(
        len(blocks),
        planted=ledger,
        planted_spots=spots,
        plots=[block.block_plots or -1 for block in blocks],
        net_area_ha=[np.nan if block.net_area_ha is None else block.net_area_ha for block in blocks],
        is_census=[block.is_census and counted_whole(block, visits) for block in blocks],
        site=[sites.code(block.site_uid) for block in blocks],
    )


def last_days(
    survey_round: SurveyRound, blocks: Iterable[BlockRecord], visits: Iterable[CountingVisit]
) -> dict[int, date]:
    """The day up to which a block's plantings belong to the survey: its last count, else the round's close."""
    counted: dict[int, date] = {}
    for visit in visits:
        counted[visit.block_id] = max(counted.get(visit.block_id, visit.observed_on), visit.observed_on)
    return {block.id: counted.get(block.id, survey_round.closes_on) for block in blocks}


def counted_whole(block: BlockRecord, visits: Iterable[CountingVisit]) -> bool:
    """A census is one only if no planned plot was missed."""
    return sum(visit.block_id == block.id for visit in visits) >= max(block.planned_plots, 1)


def ledger_of_blocks(
    blocks: Sequence[BlockRecord], cohorts: Mapping[int, CohortRecord], seen: set[int], unit: str
) -> Ints:
    """Planted in each block by the planting-day ledger, the weight of the block; −1 where nothing is on record.

    First plantings always count. A replacement planting counts only where the plots hold baselines of it:
    its plots got a baseline visit and its trees are then in the sample; otherwise the sample stands for the
    first planting alone, and so must the weight.
    """
    total = dict.fromkeys((block.id for block in blocks), 0)
    for cohort in cohorts.values():
        if cohort.unit == unit and (not cohort.replaces or cohort.id in seen):
            total[cohort.block_id] += cohort.planted
    return np.array([total[block.id] or -1 for block in blocks], dtype=np.int64)

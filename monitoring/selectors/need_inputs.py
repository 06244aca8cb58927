"""What a replacement need rests on beside the estimates: ledger, windows, nurseries, priors, signs of loss."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from django.db.models import F, Sum

from monitoring.calc.replanting_dates import Window
from monitoring.models import CountLine, Estimate, SurveyRound
from projects.models import (
    Block,
    Nursery,
    PlantingDay,
    PlantingWindow,
    Season,
    SeasonKind,
    StockLot,
    StockType,
    SurvivalPrior,
    Unit,
)

LEAD_TIME_WEEKS = 10  # where no nursery is on record; common practice
Place = tuple[int, int | None]  # block id, species id or None for the whole block


@dataclass(frozen=True, slots=True)
class Planting:
    """Trees of one cohort planted in a block on one day."""

    block_id: int
    species_id: int
    cohort_uid: str
    stock_type: str
    nursery_id: int | None
    replaces: bool
    planted_on: date
    trees: int


@dataclass(frozen=True)
class NeedInputs:
    """Everything but the estimates, for all blocks of a project."""

    plantings: Mapping[int, Sequence[Planting]]
    windows: Mapping[tuple[int, str], Sequence[Window]]
    lead_weeks: Mapping[int, int]
    longest_lead: int
    priors: Sequence[SurvivalPrior]
    signs: Mapping[tuple[int, Place], Mapping[str, int]] = field(default_factory=dict)
    seasons: Sequence[tuple[date, date, str]] = ()
    stock_types: Mapping[int, Sequence[str]] = field(default_factory=dict)  # received before, by species

    def season_of(self, day: date) -> str:
        """The planting season a day falls in, empty where none is on record."""
        return next((label for starts, ends, label in self.seasons if starts <= day <= ends), "")


def need_inputs(project_id: int, organisation_id: int, rounds: Iterable[int]) -> NeedInputs:
    """Read them in a fixed number of queries."""
    nurseries = Nursery.objects.filter(organisation_id=organisation_id).order_by("id")
    lead_weeks = dict(nurseries.values_list("id", "lead_time_weeks"))
    priors = SurvivalPrior.objects.filter(organisation_id=organisation_id).order_by("id")
    return NeedInputs(
        plantings=plantings_of(project_id),
        windows=windows_of(project_id),
        lead_weeks=lead_weeks,
        longest_lead=max(
            nurseries.current().values_list("lead_time_weeks", flat=True), default=LEAD_TIME_WEEKS
        ),
        priors=[prior for prior in priors if prior.project_id in (None, project_id)],
        signs=signs_of(rounds),
        seasons=seasons_of(organisation_id),
        stock_types=stock_types_of(organisation_id),
    )


def seasons_of(organisation_id: int) -> list[tuple[date, date, str]]:
    """Planting seasons with their label, the earliest first."""
    rows = Season.objects.filter(organisation_id=organisation_id, kind=SeasonKind.PLANTING)
    return list(rows.order_by("starts_on", "id").values_list("starts_on", "ends_on", "label"))


def stock_types_of(organisation_id: int) -> dict[int, list[str]]:
    """Stock types, seed apart, in which each species was received before."""
    lots = StockLot.objects.filter(organisation_id=organisation_id).exclude(stock_type=StockType.DIRECT_SEED)
    found: dict[int, list[str]] = defaultdict(list)
    rows = lots.order_by("species_id", "stock_type").values_list("species_id", "stock_type").distinct()
    for species, stock_type in rows:
        found[species].append(stock_type)
    return found


def plantings_of(project_id: int) -> dict[int, list[Planting]]:
    """Planting days of tree cohorts by block, summed per cohort and day."""
    rows = (
        PlantingDay.objects.filter(block__project_id=project_id, voided_at__isnull=True, cohort__unit=Unit.TREE)
        .order_by("block_id", "cohort__uid", "planted_on")
        .values_list(
            "block_id", "cohort__species_id", "cohort__uid", "cohort__stock_type", "cohort__lot__nursery_id",
            "cohort__replaces_id", "planted_on",
        ).annotate(trees=Sum("quantity"))
    )  # fmt: skip
    found: dict[int, list[Planting]] = defaultdict(list)
    for block, species, cohort, stock_type, nursery, replaces, day, trees in rows:
        planting = Planting(
            block, species, str(cohort), stock_type, nursery, replaces is not None, day, trees
        )
        found[block].append(planting)
    return found


def windows_of(project_id: int) -> dict[tuple[int, str], list[Window]]:
    """Stated planting windows by block and stock type."""
    found: dict[tuple[int, str], list[Window]] = defaultdict(list)
    rows = PlantingWindow.objects.filter(block__project_id=project_id).order_by("opens_on", "closes_on", "id")
    for block, stock_type, opens_on, closes_on in rows.values_list(
        "block_id", "stock_type", "opens_on", "closes_on"
    ):
        found[block, stock_type].append(Window(opens_on, closes_on))
    return found


def signs_of(rounds: Iterable[int]) -> dict[tuple[int, Place], dict[str, int]]:
    """Signs seen on what was lost, summed by round and block, and by round, block and species."""
    lines = (
        CountLine.objects.filter(visit__round_id__in=list(rounds), visit__is_counting=True)
        .exclude(signs={})
        .values_list("visit__round_id", "visit__plot__block_id", "species_id", "signs")
    )
    found: dict[tuple[int, Place], dict[str, int]] = defaultdict(dict)
    for round_id, block, species, signs in lines:
        for place in ((block, None), (block, species)):
            total = found[round_id, place]
            for sign, seen in sorted(signs.items()):
                total[sign] = total.get(sign, 0) + int(seen or 0)
    return found


def latest_block_figures(project_id: int) -> dict[int, Estimate]:
    """Survival of each block from the latest round in which plots of it were counted."""
    rows = (
        Estimate.objects.filter(
            project_id=project_id, scope="block", measure="survival", is_headline=True, n_plots__gt=0,
            block__archived_at__isnull=True,
        )
        .select_related("round", "block", "project")
        .order_by("block_id", F("round__opens_on").desc(), F("round_id").desc())
    )  # fmt: skip
    found: dict[int, Estimate] = {}
    for row in rows:
        found.setdefault(row.block_id, row)
    return found


def figures_of_rounds(rounds: Iterable[SurveyRound]) -> dict[tuple[int, str, str], Estimate]:
    """Headline survival by round, scope and key."""
    found = Estimate.objects.filter(round__in=list(rounds), measure="survival", is_headline=True)
    found = found.filter(scope__in=("block_species", "cohort"))
    return {(row.round_id, row.scope, row.key): row for row in found}


def targets_per_ha(block: Block) -> int | None:
    """The stocking a block is held to: its own, else its project's."""
    return block.target_stocking_per_ha or block.project.target_stocking_per_ha

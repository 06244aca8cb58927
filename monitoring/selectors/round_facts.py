"""What is known of a round's blocks and cohorts beside the counts: ledger, ground, seasons, targets."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from django.db.models import Count, Max, OuterRef, Subquery, Sum

from monitoring.models import CASES_OF_FIGURES, Case, PlotBaseline, RoundBlock, RoundPlot, Visit
from projects.models import Block, BlockGround, Cohort, PlantingDay


@dataclass(frozen=True, slots=True)
class BlockRecord:
    """A block as a stratum of a round."""

    id: int
    uid: UUID
    site_uid: UUID
    country_code: str
    net_area_ha: float | None
    target_per_ha: int | None
    block_plots: int | None
    is_census: bool
    in_round: bool
    planned_plots: int


def blocks_of_round(
    round_id: int, also: Collection[int] = (), block_id: int | None = None
) -> list[BlockRecord]:
    """Blocks of a round, and those in which plots were counted without being part of it, by identity."""
    strata = {row.block_id: row for row in RoundBlock.objects.filter(round_id=round_id).order_by("block_id")}
    ids = {block_id} if block_id is not None else {*strata, *also}
    planned = dict(
        RoundPlot.objects.filter(round_id=round_id, plot__block_id__in=ids)
        .order_by().values_list("plot__block_id").annotate(n=Count("id"))
    )  # fmt: skip
    newest = (
        BlockGround.objects.filter(block_id=OuterRef("id")).order_by("-version").values("net_area_ha")[:1]
    )
    rows = Block.objects.filter(id__in=ids).select_related("site", "project").annotate(net=Subquery(newest))
    return [block_record(row, strata.get(row.pk), planned.get(row.pk, 0)) for row in sorted(rows, key=by_uid)]


def by_uid(row: Any) -> UUID:
    return row.uid


def block_record(block: Any, stratum: RoundBlock | None, planned: int) -> BlockRecord:
    return BlockRecord(
        id=block.pk,
        uid=block.uid,
        site_uid=block.site.uid,
        country_code=block.site.country_code,
        net_area_ha=block.net,
        target_per_ha=block.target_stocking_per_ha or block.project.target_stocking_per_ha,
        block_plots=stratum.block_plots if stratum else None,
        is_census=bool(stratum and stratum.is_census),
        in_round=stratum is not None,
        planned_plots=planned,
    )


@dataclass(frozen=True, slots=True)
class CohortRecord:
    """A cohort with its planting days up to the survey: how many, and when on average."""

    id: int
    uid: UUID
    block_id: int
    lot_uid: UUID | None
    nursery_uid: UUID | None
    stock_type: str
    unit: str
    season_uid: UUID
    replaces: bool
    planted: int
    mean_planted_day: int | None  # proleptic day number

    def age_days(self, on: date) -> int | None:
        """Days from the mean planting date; None where no planting day is on record."""
        return None if self.mean_planted_day is None else on.toordinal() - self.mean_planted_day


def cohorts_of_blocks(block_ids: Collection[int], last_day: dict[int, date]) -> dict[int, CohortRecord]:
    """Cohorts of some blocks, with what was planted up to the last day of the survey in each block."""
    rows = Cohort.objects.filter(block_id__in=block_ids).order_by("uid")
    days = planted_by_day(block_ids)
    columns = (
        "id", "uid", "block_id", "lot__uid", "lot__nursery__uid", "stock_type", "unit", "season__uid", "replaces_id",
    )  # fmt: skip
    return {
        row[0]: cohort_record(row, days[row[0]], last_day.get(row[2])) for row in rows.values_list(*columns)
    }


def planted_by_day(block_ids: Collection[int]) -> dict[int, list[tuple[date, int]]]:
    """(day, trees) of every cohort, voided days left out."""
    found: dict[int, list[tuple[date, int]]] = defaultdict(list)
    rows = (
        PlantingDay.objects.filter(block_id__in=block_ids, voided_at__isnull=True)
        .order_by("cohort_id", "planted_on").values_list("cohort_id", "planted_on").annotate(n=Sum("quantity"))
    )  # fmt: skip
    for cohort_id, day, planted in rows:
        found[cohort_id].append((day, planted))
    return found


def cohort_record(row: tuple, days: list[tuple[date, int]], last_day: date | None) -> CohortRecord:
    pk, uid, block_id, lot, nursery, stock_type, unit, season, replaces = row
    counted = [(day, planted) for day, planted in days if last_day is None or day <= last_day]
    planted = sum(n for _day, n in counted)
    weighted = sum(day.toordinal() * n for day, n in counted)
    return CohortRecord(
        id=pk, uid=uid, block_id=block_id, lot_uid=lot, nursery_uid=nursery, stock_type=stock_type, unit=unit,
        season_uid=season, replaces=replaces is not None, planted=planted,
        mean_planted_day=weighted // planted if planted else None,
    )  # fmt: skip


def revision_of_round(round_id: int, block_id: int | None = None) -> int:
    """The log number the figures of a round (or of one block of it) stand at.

    The greatest number among its visits, the decisions about them and the baselines of their plots. Cases that
    figures open stand on the figures, so no figure can stand on them.
    """
    visits = Visit.objects.filter(round_id=round_id)
    cases = Case.objects.filter(round_id=round_id).exclude(kind__in=CASES_OF_FIGURES)
    plots = RoundPlot.objects.filter(round_id=round_id)
    if block_id is not None:
        visits, cases = visits.filter(plot__block_id=block_id), cases.filter(plot__block_id=block_id)
        plots = plots.filter(plot__block_id=block_id)
    baselines = PlotBaseline.objects.filter(plot_id__in=plots.values("plot_id"), is_current=True)
    tops = (
        visits.aggregate(top=Max("submission_seq")),
        cases.aggregate(top=Max("settled_seq")),
        baselines.aggregate(top=Max("submission_seq")),
    )
    return max(found["top"] or 0 for found in tops)

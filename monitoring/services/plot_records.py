"""All rows of the plots that one record may touch, read together in a fixed number of queries.

Usually one plot. A visit whose correction names another plot, or a baseline told in two plots, links them:
which revision stands can then only be said of all of them at once.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Min, Q

from monitoring.calc.revision_tree import Contest, Forest, Revision, forest
from monitoring.calc.sheet_checks import LineFacts
from monitoring.models import CountLine, PlotBaseline, PlotStatus, Removal, RoundPlot, SurvivalPlot, Visit
from projects.models import PlantingDay, Submission

Place = tuple[int, int | None]  # plot, round


@dataclass
class PlotRecord:
    """The rows of some linked plots of one project, and how they are found to stand."""

    plots: dict[int, SurvivalPlot]
    visits: list[Visit]  # by (observed_on, uid)
    lines: dict[int, list[CountLine]]
    claims: list[PlotBaseline]  # every revision of every baseline
    planted_on: dict[int, date]  # cohort id -> first planting day
    removals: list[Removal]
    on_rounds: set[tuple[int, int]]  # (plot, round)
    received_on: dict[int, date]  # submission number -> local date of arrival
    forest: Forest
    baselines: dict[UUID, PlotBaseline] = field(default_factory=dict)  # the current ones, by line
    contests: dict[Place, Contest] = field(default_factory=dict)
    facts: dict[int, LineFacts] = field(default_factory=dict)  # by count line

    @property
    def organisation_id(self) -> int:
        return next(iter(self.plots.values())).organisation_id

    def contest_of(self, visit: Visit) -> Contest:
        """Return who competes for the plot and round of a visit."""
        return self.contests.get(place_of(visit), Contest())


def place_of(visit: Visit) -> Place:
    return visit.plot_id, visit.round_id


def read_record(plot: SurvivalPlot) -> PlotRecord:
    """Read a plot and every plot linked with it."""
    plots, visits, claims = linked(plot)
    return PlotRecord(
        plots=plots,
        visits=visits,
        lines=lines_of(plots),
        claims=claims,
        planted_on=first_planting_days(row.cohort_id for row in claims),
        removals=list(Removal.objects.filter(plot_id__in=plots).order_by("removed_on", "uid")),
        on_rounds=set(RoundPlot.objects.filter(plot_id__in=plots).values_list("plot_id", "round_id")),
        received_on=arrival_days(plots, visits),
        forest=forest(revision_of(visit) for visit in visits),
    )


def linked(plot: SurvivalPlot) -> tuple[dict[int, SurvivalPlot], list[Visit], list[PlotBaseline]]:
    """Return the plot and those of its project that share a visit or a baseline with it, with those rows."""
    plots = {plot.pk: plot}
    while True:
        visits = visits_of(plots)
        claims = list(PlotBaseline.objects.filter(plot_id__in=plots).order_by("id"))
        beside = plots_beside(plot.organisation_id, visits, claims) - plots.keys()
        more = SurvivalPlot.objects.filter(pk__in=beside, block__project_id=plot.block.project_id)
        found = {row.pk: row for row in more.select_related("block__site")} if beside else {}
        if not found:
            return plots, visits, claims
        plots |= found


def plots_beside(organisation_id: int, visits: Iterable[Visit], claims: Iterable[PlotBaseline]) -> set[int]:
    """Return every plot with one of these visits or baselines.

    Roots and lines are named one by one: asked for by a subquery, PostgreSQL reads whole tables instead.
    """
    ours = Q(organisation_id=organisation_id)
    roots, lines = {visit.root for visit in visits}, {claim.line for claim in claims}
    by_visit = Visit.objects.filter(ours, root__in=roots).order_by().values_list("plot_id")
    by_baseline = PlotBaseline.objects.filter(ours, line__in=lines).order_by().values_list("plot_id")
    return {plot_id for (plot_id,) in by_visit.union(by_baseline)}


def visits_of(plots: dict[int, SurvivalPlot]) -> list[Visit]:
    """Return every revision of every visit of some plots, each knowing its plot."""
    rows = list(
        Visit.objects.filter(plot_id__in=plots).select_related("round").order_by("observed_on", "uid")
    )
    for row in rows:
        row.plot = plots[row.plot_id]
    return rows


def lines_of(plot_ids: Iterable[int]) -> dict[int, list[CountLine]]:
    """Return the count lines of each visit in the order of the sheet, without what no check looks at."""
    lines: dict[int, list[CountLine]] = defaultdict(list)
    rows = CountLine.objects.filter(visit__plot_id__in=plot_ids).defer("signs", "heights_cm")
    for line in rows.order_by("visit_id", "position"):
        lines[line.visit_id].append(line)
    return lines


def revision_of(visit: Visit) -> Revision:
    """Return a visit's row as the tree of revisions takes it."""
    return Revision(
        id=visit.uid,
        root=visit.root,
        parents=tuple(UUID(parent) for parent in visit.parents),
        observed_on=visit.observed_on,
        is_missing=visit.status == PlotStatus.MISSING,
    )


def first_planting_days(cohort_ids: Iterable[int | None]) -> dict[int, date]:
    """Return the first day each cohort was planted on."""
    ids = {pk for pk in cohort_ids if pk is not None}
    rows = PlantingDay.objects.filter(cohort_id__in=ids, voided_at__isnull=True)
    return dict(
        rows.order_by()
        .values("cohort_id")
        .annotate(first=Min("planted_on"))
        .values_list("cohort_id", "first")
    )


def arrival_days(plots: dict[int, SurvivalPlot], visits: Sequence[Visit]) -> dict[int, date]:
    """Return the local date on which each submission arrived."""
    zones = {v.submission_seq: ZoneInfo(plots[v.plot_id].block.site.time_zone) for v in visits}
    organisation_id = next(iter(plots.values())).organisation_id
    rows = Submission.objects.filter(organisation_id=organisation_id, seq__in=list(zones))
    return {
        seq: received.astimezone(zones[seq]).date()
        for seq, received in rows.values_list("seq", "received_at")
    }

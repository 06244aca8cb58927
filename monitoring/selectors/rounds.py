"""What the round, plot and case pages read, in a fixed number of queries each."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, F, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from monitoring import access
from monitoring.models import Case, PlotBaseline, PlotStatus, RoundPlot, SurveyRound, SurvivalPlot, Visit
from projects.access import Actor
from projects.models import Block


def round_rows(actor: Actor) -> QuerySet[SurveyRound]:
    """Rounds with how many plots they want and how many have a counting visit.

    Each count is a query of its own within the query: joined, they would multiply plots by visits.
    """
    return (
        access.visible_rounds(actor)
        .select_related("project", "season")
        .annotate(
            n_plots=count_of(RoundPlot.objects.all()),
            n_counted=count_of(Visit.objects.filter(is_counting=True)),
        )
    )


def count_of(rows: QuerySet[Any]) -> Coalesce:
    """Count the rows that belong to the round of the outer query."""
    own = rows.filter(round=OuterRef("pk")).order_by().values("round").annotate(n=Count("pk"))
    return Coalesce(Subquery(own.values("n")), 0)


@dataclass(frozen=True)
class PlotRow:
    """One plot of a round: where it stands and what its counting visit says."""

    plot: SurvivalPlot
    visit: Visit | None
    planted: int | None
    alive: int | None
    not_found: int | None
    n_open_cases: int

    @property
    def state(self) -> str:
        """Return "open", or the status of the counting visit."""
        return self.visit.status if self.visit else "open"


PLOTS_IN_ORDER = ("plot__block__name", "plot__block_id", "plot__name", "id")


def wanted_plots(survey_round: SurveyRound, block: Block | None = None) -> QuerySet[RoundPlot]:
    """The plots a round wants, of one block where it is named; a page of them goes to `plot_rows`."""
    related = ("plot__block__site", "plot__stands_for")
    wanted = RoundPlot.objects.filter(round=survey_round).select_related(*related)
    return wanted.filter(plot__block=block) if block else wanted


def stand_ins(survey_round: SurveyRound) -> dict[str, int]:
    """Spares that stand in a round for plots that could not be reached, by block id."""
    rows = RoundPlot.objects.filter(round=survey_round, plot__stands_for__isnull=False)
    counts = rows.order_by().values_list("plot__block_id").annotate(n=Count("pk"))
    return {str(block_id): n for block_id, n in counts}


def blocks_of_round(survey_round: SurveyRound) -> QuerySet[Block]:
    return Block.objects.filter(id__in=survey_round.round_blocks.values("block_id")).order_by("name", "id")


def plot_rows(survey_round: SurveyRound, wanted: Sequence[RoundPlot]) -> list[PlotRow]:
    """Some of a round's plots, each with its counting visit and the sums of its lines."""
    ids = [row.plot_id for row in wanted]
    visits = {visit.plot_id: visit for visit in counting_visits(survey_round, ids)}
    planted = baseline_totals(ids)
    cases = Counter(open_cases(survey_round).filter(plot_id__in=ids).values_list("plot_id", flat=True))
    return [plot_row(row.plot, visits.get(row.plot_id), planted, cases) for row in wanted]


def plot_row(plot: SurvivalPlot, visit: Any, planted: dict[int, int], cases: Counter[int]) -> PlotRow:
    counted = visit is not None and visit.status == PlotStatus.COUNTED
    return PlotRow(
        plot=plot,
        visit=visit,
        planted=planted.get(plot.pk),
        alive=visit.alive or 0 if counted else None,
        not_found=visit.not_found or 0 if counted else None,
        n_open_cases=cases[plot.pk],
    )


def counting_visits(survey_round: SurveyRound, plot_ids: Sequence[int]) -> QuerySet[Visit]:
    """Counting visits of some plots of a round with the sums of their lines."""
    return Visit.objects.filter(round=survey_round, is_counting=True, plot_id__in=plot_ids).annotate(
        alive=Sum("lines__alive"), not_found=Sum("lines__not_found")
    )


def baseline_totals(plot_ids: Sequence[int]) -> dict[int, int]:
    """Planted by the current baselines of some plots; a plot without any is left out."""
    rows = PlotBaseline.objects.filter(plot_id__in=plot_ids, is_current=True, planted__isnull=False)
    return dict(rows.order_by().values("plot_id").annotate(n=Sum("planted")).values_list("plot_id", "n"))


def open_cases(survey_round: SurveyRound) -> QuerySet[Case]:
    return Case.objects.filter(round=survey_round, settled_seq__isnull=True)


def plots_of_block(block: Block) -> QuerySet[SurvivalPlot]:
    """Plots of a block, the ones in use first."""
    rows = SurvivalPlot.objects.filter(block=block)
    return rows.annotate(n_visits=Count("visits", filter=Q(visits__is_counting=True))).order_by(
        F("retired_at").asc(nulls_first=True), "name", "id"
    )


def visits_of_plot(plot: SurvivalPlot) -> list[Visit]:
    """Every revision of every visit of a plot, newest observation first, with its lines."""
    rows = Visit.objects.filter(plot=plot).select_related("round")
    return list(
        rows.prefetch_related("lines__species", "regeneration__species", "removals").order_by(
            "-observed_on", "root", "-depth", "uid"
        )
    )


def baselines_of_plot(plot: SurvivalPlot) -> QuerySet[PlotBaseline]:
    """Every baseline revision of a plot, the current ones first."""
    rows = PlotBaseline.objects.filter(plot=plot).select_related("species", "cohort__lot", "cohort__season")
    return rows.order_by("-is_current", "species__scientific_name", "line", "-revision")

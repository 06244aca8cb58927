"""The paper sheets of a round, and which plot comes next at the desk."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

from django.db.models import Exists, OuterRef, QuerySet

from monitoring.models import PlotBaseline, RoundPlot, SurveyRound, SurvivalPlot, Visit


@dataclass
class PaperSheet:
    """One plot's sheet: what is known before going out."""

    plot: SurvivalPlot
    baselines: list[PlotBaseline] = field(default_factory=list)
    qr: str = ""


IN_ORDER = ("plot__block__name", "plot__block_id", "plot__name", "id")  # as people walk: block by block


def wanted(survey_round: SurveyRound, *, everything: bool = False) -> QuerySet[RoundPlot]:
    """The plots to print sheets for: those not visited yet, or all of the round."""
    rows = RoundPlot.objects.filter(round=survey_round).select_related("plot__block__site")
    return rows if everything else rows.filter(~Exists(counting(survey_round)))


def counting(survey_round: SurveyRound) -> QuerySet[Visit]:
    """The visit that counts for the plot of an outer row."""
    return Visit.objects.filter(round=survey_round, is_counting=True, plot=OuterRef("plot"))


def sheets_of(rows: Sequence[RoundPlot]) -> list[PaperSheet]:
    """Return the paper sheets of some plots of a round."""
    plots = [row.plot for row in rows]
    lines: dict[int, list[PlotBaseline]] = defaultdict(list)
    found = PlotBaseline.objects.filter(plot__in=plots, is_current=True).select_related(
        "species", "cohort__lot"
    )
    for row in found.order_by("plot_id", "species__scientific_name", "id"):
        lines[row.plot_id].append(row)
    return [PaperSheet(plot, lines[plot.pk]) for plot in plots]


def next_unvisited(survey_round: SurveyRound, after: SurvivalPlot) -> SurvivalPlot | None:
    """Return the next plot without a counting visit, going round once from the plot just entered."""
    order = RoundPlot.objects.filter(round=survey_round).order_by(*IN_ORDER)
    plots = list(order.values_list("plot_id", flat=True))
    waiting = set(wanted(survey_round).values_list("plot_id", flat=True))
    position = plots.index(after.pk) if after.pk in plots else -1
    turned = plots[position + 1 :] + plots[: position + 1]
    following = next((pk for pk in turned if pk in waiting), None)
    return SurvivalPlot.objects.filter(pk=following).first()

"""The paper sheets of a round, and which plot comes next at the desk."""

from collections import defaultdict
from dataclasses import dataclass, field

from monitoring.models import PlotBaseline, RoundPlot, SurveyRound, SurvivalPlot, Visit


@dataclass
class PaperSheet:
    """One plot's sheet: what is known before going out."""

    plot: SurvivalPlot
    baselines: list[PlotBaseline] = field(default_factory=list)
    qr: str = ""


def plots_in_order(survey_round: SurveyRound) -> list[SurvivalPlot]:
    """Plots of a round in walking order: by site, block and name."""
    rows = RoundPlot.objects.filter(round=survey_round).select_related("plot__block__site")
    return [
        row.plot
        for row in rows.order_by("plot__block__site__name", "plot__block__name", "plot__name", "plot_id")
    ]


def visited(survey_round: SurveyRound) -> set[int]:
    return set(Visit.objects.filter(round=survey_round, is_counting=True).values_list("plot_id", flat=True))


def sheets_of_round(survey_round: SurveyRound, *, everything: bool = False) -> list[PaperSheet]:
    """Return the sheets to print: of the plots not visited yet, or of all."""
    done = set() if everything else visited(survey_round)
    plots = [plot for plot in plots_in_order(survey_round) if plot.pk not in done]
    lines: dict[int, list[PlotBaseline]] = defaultdict(list)
    rows = PlotBaseline.objects.filter(plot__in=plots, is_current=True).select_related("species", "cohort__lot")
    for row in rows.order_by("plot_id", "species__scientific_name", "id"):
        lines[row.plot_id].append(row)
    return [PaperSheet(plot, lines[plot.pk]) for plot in plots]


def next_unvisited(survey_round: SurveyRound, after: SurvivalPlot) -> SurvivalPlot | None:
    """Return the next plot without a counting visit, going round once from the plot just entered."""
    plots, done = plots_in_order(survey_round), visited(survey_round)
    position = next((n for n, plot in enumerate(plots) if plot.pk == after.pk), -1)
    turned = plots[position + 1 :] + plots[: position + 1]
    return next((plot for plot in turned if plot.pk not in done), None)

"""Plot cards: what a crew takes along to find a plot and lay it out."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.db.models import QuerySet

from monitoring.estimators.plot_geometry import radius_on_slope_m
from monitoring.models import (
    BorderRule,
    PlotBaseline,
    PlotDraw,
    RoundPlot,
    RoundStatus,
    SurveyRound,
    SurvivalPlot,
)
from monitoring.selectors.field_pack import baselines_of
from monitoring.selectors.plot_draws import WORTH_SAYING


@dataclass
class PlotCard:
    """One card."""

    plot: SurvivalPlot
    survey_round: SurveyRound | None
    baselines: list[PlotBaseline] = field(default_factory=list)
    qr: str = ""

    @property
    def radius_on_slope_m(self) -> float | None:
        """The radius to lay out along the ground, where it differs from the horizontal one."""
        if not self.plot.radius_m or not self.plot.slope_percent:
            return None
        return round(radius_on_slope_m(self.plot.radius_m, self.plot.slope_percent), 2)

    @property
    def is_cut(self) -> bool:
        """Whether part of the circle lies outside the block."""
        return self.share_inside < WORTH_SAYING

    @property
    def share_inside(self) -> float:
        points = self.plot.draw.points if self.plot.draw else []
        own = (point.get("share_inside") for point in points if point["order"] == self.plot.draw_order)
        share = next(own, None)
        return 1.0 if share is None else float(share)

    @property
    def has_buffer(self) -> bool:
        return bool(self.plot.draw and self.plot.draw.border_rule == BorderRule.BUFFER)

    @property
    def emergency(self) -> str:
        site = self.plot.block.site
        return site.emergency_contact or self.plot.organisation.emergency_contact


RELATED = ("block__site", "organisation", "draw", "holding", "stands_for")
IN_ORDER = ("plot__block__name", "plot__block_id", "plot__name", "id")


def wanted(survey_round: SurveyRound) -> QuerySet[RoundPlot]:
    """The plots of a round that are in use, to make cards of."""
    rows = RoundPlot.objects.filter(round=survey_round, plot__retired_at__isnull=True)
    return rows.select_related(*(f"plot__{name}" for name in RELATED))


def cards(plots: Sequence[SurvivalPlot], rounds: dict[int, SurveyRound]) -> list[PlotCard]:
    """Cards of some plots, each for the round that counts it."""
    lines = baselines_of(plot.pk for plot in plots)
    return [PlotCard(plot, rounds.get(plot.pk), lines[plot.pk]) for plot in plots]


def plots_of_draw(draw: PlotDraw) -> list[SurvivalPlot]:
    rows = SurvivalPlot.objects.filter(draw=draw, retired_at__isnull=True)
    return list(rows.select_related(*RELATED).order_by("draw_order"))


def open_rounds(plots: Iterable[SurvivalPlot]) -> dict[int, SurveyRound]:
    """The latest open round that wants each plot, by plot id."""
    rows = RoundPlot.objects.filter(plot__in=list(plots), round__status=RoundStatus.OPEN).select_related(
        "round"
    )
    return {row.plot_id: row.round for row in rows.order_by("round__opens_on", "round_id")}

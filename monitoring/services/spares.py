"""Plots that cannot be reached: they stay in their round as missing, and the next spare of their draw joins it."""

from datetime import date
from typing import Any

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from monitoring.models import PlotDraw, PlotStatus, RoundPlot, RoundStatus, SurveyRound, SurvivalPlot, Visit
from monitoring.services import entries, plot_draws, resettling, rounds
from projects.access import Actor
from projects.errors import Refusal
from projects.services import editing

UNREACHABLE = ("unsafe", "refused", "not_located", "not_reached")


def next_spare(draw_: PlotDraw) -> dict[str, Any] | None:
    """Return the first spare, in the order of the draw, that is no plot yet."""
    used = set(SurvivalPlot.objects.filter(draw=draw_).values_list("draw_order", flat=True))
    spares = sorted((point for point in draw_.points if point["spare"]), key=lambda point: point["order"])
    return next((point for point in spares if point["order"] not in used), None)


@transaction.atomic
def take_next_spare(
    *, actor: Actor, plot: SurvivalPlot, survey_round: SurveyRound, reason: str, observed_on: date
) -> SurvivalPlot:
    """Report a plot as not reached in a round and take up the next spare of its draw in its place.

    The plot stays in the round as missing; the spare joins the round beside it.
    """
    actor.require("plot.edit")
    editing.ours(actor, plot, survey_round)
    editing.held(plot.block)  # before the log, as planting does
    resettling.hold_the_log(actor.organisation)
    check_unreachable(plot, survey_round, reason)
    held = PlotDraw.objects.select_for_update(no_key=True).get(pk=plot.draw_id)
    point = next_spare(held)
    if point is None:
        raise Refusal(
            _("No spare is left in this draw. The plot stays missing; do not look for another place.")
        )
    report_missing(actor, plot, survey_round, reason, observed_on)
    (spare,) = plot_draws.make_plots(actor, held, [point], is_permanent=plot.is_permanent, stands_for=plot)
    rounds.join(survey_round, [spare])
    return spare


def check_unreachable(plot: SurvivalPlot, survey_round: SurveyRound, reason: str) -> None:
    """Refuse what the written rule does not allow."""
    if plot.draw_id is None:
        raise Refusal(_("This plot was not drawn with spares, so none can stand for it."))
    if reason not in UNREACHABLE:
        raise Refusal(_("Say why the plot cannot be reached."), field="reason")
    if survey_round.status != RoundStatus.OPEN:
        raise Refusal(_("This round is closed. Open it again first."), field="survey_round")
    if not RoundPlot.objects.filter(round=survey_round, plot=plot).exists():
        raise Refusal(_("This plot is not part of the round."), field="survey_round")
    if stand_in := plot.stand_ins.first():
        raise Refusal(_("Plot %(name)s stands for this plot already.") % {"name": stand_in.name})


def report_missing(
    actor: Actor, plot: SurvivalPlot, survey_round: SurveyRound, reason: str, observed_on: date
) -> None:
    """Send the report through the log like any other visit, unless the plot is reported missing already."""
    head = Visit.objects.filter(plot=plot, round=survey_round, is_counting=True).first()
    if head is not None and head.status == PlotStatus.MISSING:
        return
    if head is not None:
        raise Refusal(_("This plot was visited in this round. A plot that was seen is never exchanged."))
    entry = entries.visit_record(
        plot=plot,
        survey_round=survey_round,
        observed_on=observed_on,
        status=PlotStatus.MISSING,
        reason=reason,
    )
    entries.enter(actor=actor, entry=entry)


def rounds_of(plot: SurvivalPlot) -> QuerySet[SurveyRound]:
    """The open rounds that want a plot, latest first."""
    wanted = RoundPlot.objects.filter(plot=plot).values("round_id")
    return SurveyRound.objects.filter(pk__in=wanted, status=RoundStatus.OPEN)


def may_stand_in(plot: SurvivalPlot) -> bool:
    """Whether a spare could be taken up for a plot now: drawn, wanted by an open round, a spare left."""
    if plot.draw is None or plot.retired_at or plot.stand_ins.exists() or next_spare(plot.draw) is None:
        return False
    return rounds_of(plot).exists()

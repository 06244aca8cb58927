"""Plots that cannot be reached: they stay in their round as missing, and the next spare of their draw joins it."""

from datetime import date
from typing import Any

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from monitoring.models import PlotDraw, PlotStatus, RoundPlot, RoundStatus, SurveyRound, SurvivalPlot, Visit
from monitoring.services import entries, plot_draws, resettling, rounds
from projects import history
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
    *,
    actor: Actor,
    plot: SurvivalPlot,
    reason: str,
    observed_on: date,
    survey_round: SurveyRound | None = None,
) -> SurvivalPlot:
    """Take up the next spare of a plot's draw in its place, since the plot cannot be reached.

    In a round the plot is reported and stays there as missing; the spare joins the round beside it. Before any
    round, when plots are laid out and their trees counted in, there is nothing to report to: the history keeps why
    and when, and both join the rounds that are opened later.
    """
    actor.require("plot.edit")
    editing.ours(actor, plot, *([survey_round] if survey_round else []))
    editing.held(plot.block)  # before the log, as planting does
    resettling.hold_the_log(actor.organisation)
    check_unreachable(plot, survey_round, reason)
    held = PlotDraw.objects.select_for_update(no_key=True).get(pk=plot.draw_id)
    point = next_spare(held)
    if point is None:
        raise Refusal(
            _("No spare is left in this draw. The plot stays missing; do not look for another place.")
        )
    if survey_round is not None:
        report_missing(actor, plot, survey_round, reason, observed_on)
    (spare,) = plot_draws.make_plots(actor, held, [point], is_permanent=plot.is_permanent, stands_for=plot)
    if survey_round is not None:
        rounds.join(survey_round, [spare])
    else:
        change = {"tried_on": [None, history.plain(observed_on)], "stand_in": [None, spare.name]}
        history.record(actor, "plot.stood_in_for", plot, change=change, reason=reason.replace("_", " "))
    return spare


def check_unreachable(plot: SurvivalPlot, survey_round: SurveyRound | None, reason: str) -> None:
    """Refuse what the written rule does not allow."""
    if plot.draw_id is None:
        raise Refusal(_("This plot was not drawn with spares, so none can stand for it."))
    if reason not in UNREACHABLE:
        raise Refusal(_("Say why the plot cannot be reached."), field="reason")
    if survey_round is None:
        check_without_a_round(plot)
    elif survey_round.status != RoundStatus.OPEN:
        raise Refusal(_("This round is closed. Open it again first."), field="survey_round")
    elif not RoundPlot.objects.filter(round=survey_round, plot=plot).exists():
        raise Refusal(_("This plot is not part of the round."), field="survey_round")
    if stand_in := plot.stand_ins.first():
        raise Refusal(_("Plot %(name)s stands for this plot already.") % {"name": stand_in.name})


def check_without_a_round(plot: SurvivalPlot) -> None:
    """Refuse where a round waits for the report, and where somebody stood in the plot already."""
    if rounds_of(plot).exists():
        raise Refusal(_("Choose the round."), field="survey_round")
    if was_reached(plot):
        raise Refusal(
            _(
                "This plot was reached before, so it may be again. A spare can be taken up while a round wants it."
            )
        )


def was_reached(plot: SurvivalPlot) -> bool:
    """Whether its trees were counted in, or a visit found it."""
    seen = Visit.objects.filter(plot=plot).exclude(status=PlotStatus.MISSING)
    return plot.baselines.exists() or seen.exists()


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
    """Whether a spare could be taken up for a plot now: drawn, a spare left, wanted by a round or never reached."""
    if plot.draw is None or plot.retired_at or plot.stand_ins.exists() or next_spare(plot.draw) is None:
        return False
    return rounds_of(plot).exists() or not was_reached(plot)

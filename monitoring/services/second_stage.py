"""One second stage of a round: a number of further plots fixed once, drawn at once, joined to the round."""

import secrets
from collections.abc import Mapping

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from monitoring.calc.plot_frames import ROW, Frame, Plan
from monitoring.models import (
    PlotDraw,
    RoundBlock,
    RoundPlot,
    RoundStatus,
    Selection,
    Shape,
    SurveyRound,
    SurvivalPlot,
)
from monitoring.services import plot_draws, rounds
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Block
from projects.services import editing

STAGE = 2
SEEDS = 2**31  # a seed a person can type


@transaction.atomic
def plan(
    *, actor: Actor, survey_round: SurveyRound, further: Mapping[Block, int], method: str, n_spares: int = 0
) -> list[PlotDraw]:
    """Fix how many further plots a round gets in each block, draw them and join them to the round.

    A round has one second stage. From here on its outcomes are given at a level split between both looks.
    """
    actor.require("round.edit")
    editing.ours(actor, survey_round, *further)
    locked = editing.held(survey_round)
    wanted = {block: number for block, number in further.items() if number}
    check(locked, wanted)
    editing.change(actor, locked, {"second_stage_plots": sum(wanted.values())}, "round.second_stage_planned")
    draws = [draw_more(actor, locked, block, number, method, n_spares) for block, number in wanted.items()]
    rounds.join(locked, list(SurvivalPlot.objects.filter(draw__in=draws)))
    return draws


def check(survey_round: SurveyRound, wanted: Mapping[Block, int]) -> None:
    """Refuse a stage that is not one, or not this round's."""
    if survey_round.status != RoundStatus.OPEN:
        raise Refusal(_("This round is closed. Open it again first."))
    if stage_plots(survey_round).exists():
        raise Refusal(
            _("This round had its second stage. A third look would break the promised confidence; wait for the"
              " next round.")
        )  # fmt: skip
    if not wanted:
        raise Refusal(_("Write a number of further plots for at least one block."))
    planned, total = survey_round.second_stage_plots, sum(wanted.values())
    if planned and planned != total:
        words = _("%(planned)s further plots were fixed for this round beforehand; these are %(total)s.")
        raise Refusal(words % {"planned": planned, "total": total})
    inside = set(RoundBlock.objects.filter(round=survey_round).values_list("block_id", flat=True))
    if any(block.pk not in inside for block in wanted):
        raise Refusal(_("Choose blocks of this round only."))


def stage_plots(survey_round: SurveyRound) -> QuerySet[SurvivalPlot]:
    """The second-stage plots of a round; those that came to an earlier round belong to that one."""
    earlier = RoundPlot.objects.filter(
        round__project=survey_round.project_id, round__opens_on__lt=survey_round.opens_on
    )
    held = survey_round.round_plots.exclude(plot_id__in=earlier.values("plot_id"))
    return SurvivalPlot.objects.filter(pk__in=held.values("plot_id"), stage=STAGE)


def draw_more(
    actor: Actor, survey_round: SurveyRound, block: Block, number: int, method: str, n_spares: int
) -> PlotDraw:
    """Draw further plots of a block like those it has in the round."""
    like = pattern_plot(survey_round, block)
    frame, chosen = frame_like(block, like, method)
    seed = secrets.randbelow(SEEDS)
    drawing = Plan(chosen, number, n_spares, seed, radius_m=like.radius_m or 0.0)
    return plot_draws.lay_out(
        actor=actor, block=block, frame=frame, plan=drawing, shape=like.shape, slope_percent=like.slope_percent,
        stage=STAGE, is_permanent=like.is_permanent,
    )  # fmt: skip


def pattern_plot(survey_round: SurveyRound, block: Block) -> SurvivalPlot:
    """Return a first-stage plot of a block, after which the further ones are made."""
    plots = SurvivalPlot.objects.filter(block=block, pk__in=survey_round.round_plots.values("plot_id"))
    like = plots.select_related("draw").order_by("stage", "id").first()
    if like is None or like.shape not in (Shape.CIRCLE, Shape.ROW, Shape.HOLDING):
        words = _("%(block)s has no sample plots in this round that further ones could be added to.")
        raise Refusal(words % {"block": block.name})
    return like


def frame_like(block: Block, like: SurvivalPlot, method: str) -> tuple[Frame, str]:
    """Return what to draw from, and how: ground by the method asked for, lists and rows by list."""
    if like.shape == Shape.CIRCLE:
        return plot_draws.ground_frame(block), method
    if like.shape == Shape.HOLDING and like.plot_weight is not None:
        words = _(
            "The holdings of %(block)s were drawn by their trees; further ones cannot be added to such a draw."
        )
        raise Refusal(words % {"block": block.name})
    if like.shape == Shape.HOLDING:
        held = SurvivalPlot.objects.filter(block=block, holding__isnull=False)
        return (
            plot_draws.holdings_frame(block, False, list(held.values_list("holding_id", flat=True))),
            Selection.LIST,
        )
    if like.draw is None or like.draw.frame.get("type") != ROW:
        words = _(
            "The rows of %(block)s were not drawn here, so nobody can tell which spots are left to draw."
        )
        raise Refusal(words % {"block": block.name})
    return rest_of_row(block, like.draw.frame), Selection.LIST


def rest_of_row(block: Block, frame: Frame) -> Frame:
    """The row without the runs of spots that are plots already."""
    drawn = PlotDraw.objects.filter(block=block, shape=Shape.ROW)
    taken = {
        point["first"]
        for row in drawn
        for point in row.points
        if row.plots.filter(draw_order=point["order"]).exists()
    }
    return frame | {"without": sorted(taken | set(frame.get("without", [])))}

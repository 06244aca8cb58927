"""Plots drawn by a seed: what a block offers to draw from, laying the drawn plots out, drawing them again."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from monitoring.calc.drawn_again import Difference, differences
from monitoring.calc.plot_frames import BY_TREES, EQUAL, HOLDINGS, ROW, Drawn, Frame, Plan, draw, units_in
from monitoring.calc.plot_names import next_names
from monitoring.models import PlotDraw, Selection, Shape, SurvivalPlot
from monitoring.services import plots
from projects import clocks
from projects.access import Actor
from projects.calc.geometry import geodesic_area_m2
from projects.errors import Refusal
from projects.models import Block, Holding
from projects.services import editing

MOST_PLOTS, MOST_SPARES = 200, 50


@dataclass(frozen=True)
class Again:
    """A stored draw held against the same draw made again."""

    n_points: int
    differences: list[Difference]
    problem: str = ""

    @property
    def is_same(self) -> bool:
        return not self.differences and not self.problem


# --- frames -------------------------------------------------------------------------------------
def ground_frame(block: Block) -> Frame:
    """Return the block's ground as it is drawn now, or say how to draw it."""
    ground = block.grounds.order_by("-version").first()
    if ground is None or not ground.geometry:
        raise Refusal(
            _("This block has no boundary yet. Draw its ground first: plots are drawn inside it."),
            code="no_boundary",
        )
    return ground.geometry


def holdings_frame(block: Block, by_size: bool, without: Sequence[int] = ()) -> Frame:
    """Return the block's list of holdings; `without` leaves out those that are plots already."""
    rows = block.holdings.exclude(pk__in=without).order_by("label", "id")
    units = [
        {
            "uid": str(row.uid), "label": row.label, "trees": row.trees_received,
            "latitude": row.latitude, "longitude": row.longitude,
        }
        for row in rows
        if row.trees_received or not by_size
    ]  # fmt: skip
    if not units:
        raise Refusal(_("The list of holdings is empty. Add the farms or gardens of this block first."))
    return {"type": HOLDINGS, "chance": BY_TREES if by_size else EQUAL, "units": units}


def row_frame(spots: int, spots_per_plot: int) -> Frame:
    return {"type": ROW, "spots": spots, "spots_per_plot": spots_per_plot}


# --- drawing ------------------------------------------------------------------------------------
def drawn(frame: Frame, plan: Plan) -> Drawn:
    """Draw, and turn what cannot be drawn into words for the form."""
    if plan.n_plots > MOST_PLOTS or plan.n_spares > MOST_SPARES:
        raise Refusal(_("That is more plots than one draw takes."), field="n_plots")
    held = units_in(frame)
    if held is not None and plan.n_plots + plan.n_spares > held:
        raise Refusal(
            _(
                "There are only %(held)s to draw from, spares included. Ask for fewer, or count the whole block."
            )
            % {"held": held},
            field="n_plots",
        )
    check_room(frame, plan)
    try:
        return draw(frame, plan)
    except ValueError as wrong:
        if plan.border_rule == "buffer":
            words = _("The buffer leaves no ground to draw in. Make it narrower, or cut plots at the border.")
            raise Refusal(words, field="buffer_m") from wrong
        raise Refusal(_("Plots cannot be drawn in this ground. Look at its boundary."), field="") from wrong


def check_room(frame: Frame, plan: Plan) -> None:
    """Circles that together are larger than the ground would count the same trees again and again."""
    if not plan.radius_m or units_in(frame) is not None:
        return
    if plan.n_plots * math.pi * plan.radius_m**2 > geodesic_area_m2(frame):
        raise Refusal(
            _(
                "These plots together are larger than the block, so they would overlap. Make the radius smaller,"
                " ask for fewer plots, or count the whole block."
            ),
            field="radius_m",
        )


@transaction.atomic
def lay_out(
    *,
    actor: Actor,
    block: Block,
    frame: Frame,
    plan: Plan,
    shape: str = Shape.CIRCLE,
    slope_percent: float | None = None,
    stage: int = 1,
    is_permanent: bool = True,
    drawn_on: date | None = None,
) -> PlotDraw:
    """Draw plots in a block and lay them out; spares stay in the draw until the rule takes them up."""
    actor.require("plot.edit")
    editing.ours(actor, block)
    editing.held(block)  # names count on, so one at a time
    found = drawn(frame, plan)
    row = PlotDraw(
        block=block, method=plan.method, seed=plan.seed, n_plots=plan.n_plots, n_spares=plan.n_spares, shape=shape,
        radius_m=plan.radius_m or None, slope_percent=slope_percent, border_rule=plan.border_rule,
        buffer_m=plan.buffer_m, share_not_covered=found.share_not_covered, stage=stage, frame=frame,
        frame_sha256=found.frame_sha256, points=list(found.points), drawn_on=drawn_on or clocks.today_at(block.site),
        drawn_by=actor.person, code_version=found.code_version,
    )  # fmt: skip
    editing.make(actor, row, "plot_draw.laid_out")
    chosen = [point for point in found.points if not point["spare"]]
    make_plots(actor, row, chosen, is_permanent=is_permanent)
    return row


@transaction.atomic
def count_whole(*, actor: Actor, block: Block) -> SurvivalPlot:
    """Make a block one plot that holds every tree of it."""
    if SurvivalPlot.objects.filter(block=block, retired_at__isnull=True).exists():
        raise Refusal(
            _("This block has plots in use. Give them up first: it is either counted whole or sampled.")
        )
    return plots.make_plot(
        actor=actor, block=block, name=_("whole block"), shape=Shape.WHOLE_BLOCK,
        selection_method=Selection.CENSUS, is_permanent=True,
    )  # fmt: skip


def make_plots(
    actor: Actor, draw_: PlotDraw, points: Sequence[dict[str, Any]], *, is_permanent: bool, **values: Any
) -> list[SurvivalPlot]:
    """Make plots of some points of a draw, their names counted on from the block's."""
    taken = SurvivalPlot.objects.filter(block=draw_.block).values_list("name", flat=True)
    names = next_names(taken, draw_.block.name, len(points))
    made = []
    for point, name in zip(points, names, strict=True):
        plot = SurvivalPlot(
            block=draw_.block, name=name, shape=draw_.shape, radius_m=draw_.radius_m,
            slope_percent=draw_.slope_percent, selection_method=draw_.method, seed=draw_.seed, stage=draw_.stage,
            draw=draw_, draw_order=point["order"], is_permanent=is_permanent, **place_of(draw_, point), **values,
        )  # fmt: skip
        plots.complete(plot)
        made.append(editing.make(actor, plot, "plot.made"))
    return made


def place_of(draw_: PlotDraw, point: dict[str, Any]) -> dict[str, Any]:
    """Return where a point of a draw is: a place, a holding, or spots of a row."""
    if draw_.frame["type"] == HOLDINGS:
        holding = Holding.objects.get(block=draw_.block, uid=point["uid"])
        weight = point["weight"] if point["weight"] != 1 else None
        return {
            "holding": holding,
            "latitude": holding.latitude,
            "longitude": holding.longitude,
            "plot_weight": weight,
        }
    if draw_.frame["type"] == ROW:
        words = _("spots %(first)s to %(last)s of the row, counted from its start")
        return {
            "spots": point["last"] - point["first"] + 1,
            "directions": words % {"first": point["first"], "last": point["last"]},
        }
    return {"latitude": point["latitude"], "longitude": point["longitude"]}


# --- drawing again ------------------------------------------------------------------------------
def plan_of(draw_: PlotDraw) -> Plan:
    return Plan(
        method=draw_.method, n_plots=draw_.n_plots, n_spares=draw_.n_spares, seed=draw_.seed,
        radius_m=draw_.radius_m or 0.0, border_rule=draw_.border_rule, buffer_m=draw_.buffer_m,
    )  # fmt: skip


def draw_again(draw_: PlotDraw) -> Again:
    """Draw the same points from the stored frame and seed, and say where they differ from what is stored."""
    try:
        again = draw(draw_.frame, plan_of(draw_))
    except ValueError as wrong:
        return Again(len(draw_.points), [], str(wrong))
    found = differences(draw_.points, again.points)
    if again.frame_sha256 != draw_.frame_sha256:
        return Again(len(draw_.points), found, _("The stored frame is not the one that was drawn from."))
    return Again(len(draw_.points), found)

"""Survival plots: laid out, corrected, retired. Their baselines enter through the log."""

import math
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from monitoring.models import Shape, SurvivalPlot
from monitoring.services import dirty
from projects import history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Block
from projects.services import editing

FIELDS = (
    "name", "shape", "latitude", "longitude", "radius_m", "length_m", "width_m", "spots", "slope_percent",
    "plot_weight", "holding", "selection_method", "seed", "draw_note", "is_permanent", "directions", "stage",
)  # fmt: skip


@transaction.atomic
def make_plot(*, actor: Actor, block: Block, **values: Any) -> SurvivalPlot:
    """Add a plot to a block; its area follows from its shape."""
    actor.require("plot.edit")
    editing.ours(actor, block, values.get("holding"))
    plot = SurvivalPlot(block=block, **known(values))
    complete(plot)
    editing.held(block)  # whoever names plots here waits
    with editing.refusing_duplicates(
        "name", _("This block has a plot of that name already. Choose another.")
    ):
        return editing.make(actor, plot, "plot.made")


@transaction.atomic
def edit_plot(*, actor: Actor, plot: SurvivalPlot, version: str = "", **values: Any) -> SurvivalPlot:
    """Correct a plot's facts; what was counted there stays with it."""
    actor.require("plot.edit")
    editing.ours(actor, plot, values.get("holding"))
    values = known(values)
    trial = SurvivalPlot.objects.get(pk=plot.pk)
    for name, value in values.items():
        setattr(trial, name, value)
    complete(trial)
    editing.held(plot.block)
    with editing.refusing_duplicates(
        "name", _("This block has a plot of that name already. Choose another.")
    ):
        changed = editing.change(
            actor, plot, {**values, "area_m2": trial.area_m2}, "plot.edited", version=version
        )
    dirty.mark_block(changed.block)  # its weight or area may enter figures
    return changed


@transaction.atomic
def retire_plot(*, actor: Actor, plot: SurvivalPlot, reason: str) -> SurvivalPlot:
    """Take a plot out of the rounds to come; open rounds keep it as missing and its counts stay."""
    actor.require("plot.edit")
    editing.ours(actor, plot)
    if not reason.strip():
        raise Refusal(_("Write why the plot is given up; the record keeps it."), field="reason")
    if SurvivalPlot.objects.filter(pk=plot.pk, retired_at__isnull=True).update(retired_at=timezone.now()):
        history.record(actor, "plot.retired", plot, reason=reason.strip())
    plot.refresh_from_db()
    return plot


def known(values: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in values.items() if name in FIELDS}


def complete(plot: SurvivalPlot) -> None:
    """Check the measures a shape needs and work out the area."""
    check_position(plot)
    needs = {
        Shape.CIRCLE: ("radius_m",),
        Shape.RECTANGLE: ("length_m", "width_m"),
        Shape.ROW: ("spots",),
    }.get(Shape(plot.shape), ())
    for name in needs:
        value = getattr(plot, name)
        if value is None or not 0 < value <= 10_000:
            raise Refusal(_("Write this measure of the plot, above 0."), field=name)
    plot.area_m2 = area_m2(plot)


def check_position(plot: SurvivalPlot) -> None:
    if plot.latitude is not None and not -90 <= plot.latitude <= 90:
        raise Refusal(_("A latitude lies between −90 and 90 degrees."), field="latitude")
    if plot.longitude is not None and not -180 <= plot.longitude <= 180:
        raise Refusal(_("A longitude lies between −180 and 180 degrees."), field="longitude")
    if (plot.latitude is None) != (plot.longitude is None):
        raise Refusal(_("Write both latitude and longitude, or neither."), field="latitude")


def area_m2(plot: SurvivalPlot) -> float | None:
    """Return the plot's area on the map; None where the shape has none of its own.

    A circle's radius is horizontal, and of a drawn one only the part inside its block is counted. A row's
    ground is its spots times the block's spacing.
    """
    if plot.shape == Shape.CIRCLE:
        return round(math.pi * plot.radius_m**2 * share_inside(plot), 2)
    if plot.shape == Shape.RECTANGLE:
        return round(plot.length_m * plot.width_m, 2)
    block = plot.block
    if plot.shape == Shape.ROW and block.row_spacing_m and block.in_row_spacing_m:
        return round(plot.spots * block.row_spacing_m * block.in_row_spacing_m, 2)
    return None


def share_inside(plot: SurvivalPlot) -> float:
    """Return the part of a plot inside its block: as its draw measured it, else all of it."""
    if plot.draw is None:
        return 1.0
    shares = {point["order"]: point.get("share_inside", 1.0) for point in plot.draw.points}
    return float(shares.get(plot.draw_order, 1.0))

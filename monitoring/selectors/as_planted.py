"""How densely a block was planted: counted in its plots, planned by its spacing, and by its planting days."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Max, Q, Sum

from monitoring.estimators.as_planted import PlantedDensity, beside, planted_density
from monitoring.models import BaselineSource, PlotBaseline
from monitoring.models.plots import Selection, Shape
from projects.access import Actor
from projects.calc.spacing import pattern_per_ha
from projects.models import Block, PlantingDay, Unit
from projects.selectors.places import ground_of


@dataclass(frozen=True)
class Compared:
    """Another number beside the counted one: `where` says fewer, within or more were counted."""

    per_ha: float | None
    where: str


@dataclass(frozen=True)
class AsPlanted:
    """The density counted at planting and what it is held against. [per ha]"""

    found: PlantedDensity
    spacing: Compared
    ledger: Compared
    counted_until: date | None
    planted_since: bool  # trees were planted after the last of these plots was counted
    not_drawn: bool  # some plots were not drawn at random


def of_block(actor: Actor, block: Block) -> dict[str, Any]:
    """The panel of a block; nothing where no plot was counted at planting."""
    plots = _plots(block)
    if not plots:
        return {"as_planted": None}
    is_census = any(plot["shape"] == Shape.WHOLE_BLOCK for plot in plots)
    if is_census:
        plots = [plot for plot in plots if plot["shape"] == Shape.WHOLE_BLOCK]
    found = planted_density(
        [plot["trees"] for plot in plots], [plot["area_m2"] for plot in plots], is_census=is_census
    )
    planted = _ledger(block)
    ground = ground_of(block)
    net = ground.net_area_ha if ground else None
    spacing = pattern_per_ha(block.pattern, block.row_spacing_m, block.in_row_spacing_m)
    ledger = planted["trees"] / net if planted["trees"] and net else None
    counted = max((plot["counted"] for plot in plots if plot["counted"]), default=None)
    return {
        "as_planted": AsPlanted(
            found, Compared(spacing, beside(found, spacing)), Compared(ledger, beside(found, ledger)), counted,
            bool(counted and planted["last"] and planted["last"] > counted),
            any(plot["selection"] == Selection.OTHER for plot in plots),
        )
    }  # fmt: skip


def _plots(block: Block) -> list[dict[str, Any]]:
    """Plots in use with an area, all of whose first plantings were counted at planting, with their trees.

    Replacements are left out: they stand where a tree was planted before.
    """
    rows = PlotBaseline.objects.filter(
        plot__block=block, plot__retired_at__isnull=True, plot__area_m2__gt=0, is_current=True, unit=Unit.TREE
    ).filter(Q(cohort__isnull=True) | Q(cohort__replaces__isnull=True))
    later = rows.exclude(source=BaselineSource.AT_PLANTING) | rows.filter(planted__isnull=True)
    counted = rows.exclude(plot__in=later.order_by().values("plot")).order_by()
    columns = counted.values("plot_id", "plot__area_m2", "plot__shape", "plot__selection_method")
    totals = columns.annotate(trees=Sum("planted"), counted=Max("counted_on")).order_by("plot_id")
    return [
        {
            "area_m2": row["plot__area_m2"], "shape": row["plot__shape"], "selection": row["plot__selection_method"],
            "trees": row["trees"], "counted": row["counted"],
        }
        for row in totals
    ]  # fmt: skip


def _ledger(block: Block) -> dict[str, Any]:
    """Trees of first plantings by the planting days, and the last of those days."""
    days = PlantingDay.objects.filter(block=block, voided_at__isnull=True, cohort__unit=Unit.TREE)
    return days.filter(cohort__replaces__isnull=True).aggregate(trees=Sum("quantity"), last=Max("planted_on"))

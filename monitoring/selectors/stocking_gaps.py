"""Where the gaps are: plots below the target of their block, which a mean hides."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from monitoring import access
from monitoring.models import Estimate, SurvivalPlot
from monitoring.selectors.plot_draws import at, feature
from projects.access import Actor
from projects.models import Block
from projects.selectors.places import block_shapes

MOST_LISTED = 12


@dataclass(frozen=True)
class GapPlot:
    """One plot that holds too few living trees; the plot itself only for those who may see plots."""

    living: int
    wanted: float
    plot: SurvivalPlot | None = None

    @property
    def needed(self) -> int:
        """Whole trees that reach the target of the plot."""
        return math.ceil(self.wanted - 1e-9)


@dataclass(frozen=True)
class Gaps:
    """The share of a block's plots that reach its target, and those that do not."""

    stocked: Estimate
    plots: list[GapPlot] = field(default_factory=list)

    @property
    def below(self) -> dict[str, Any]:
        """Share of plots below the target, with its limits, as a figure."""
        row = self.stocked
        return {
            "value": None if row.value is None else 1 - row.value,
            "lower": None if row.upper is None else 1 - row.upper,
            "upper": None if row.lower is None else 1 - row.lower,
            "measure": "plots_stocked",
        }

    @property
    def listed(self) -> list[GapPlot]:
        """The emptiest plots that may be named."""
        return [row for row in self.plots if row.plot is not None][:MOST_LISTED]

    @property
    def n_more(self) -> int:
        named = sum(row.plot is not None for row in self.plots)
        return max(named - MOST_LISTED, 0)


def gaps_of(actor: Actor, stocked: Iterable[Estimate]) -> dict[tuple[int, int], Gaps]:
    """Gaps by round and block; one query for all plots, none where the actor may not see plots."""
    rows = [row for row in stocked if row.block_id is not None]
    wanted = {told["plot"] for row in rows for told in row.facts.get("below_target", ())}
    plots: dict[str, SurvivalPlot] = {}
    if wanted and actor.may("plot.view"):
        plots = {str(plot.uid): plot for plot in access.visible_plots(actor).filter(uid__in=wanted)}
    return {
        (row.round_id, row.block_id): Gaps(row, listed(row.facts.get("below_target", ()), plots))
        for row in rows
        if row.round_id is not None and row.block_id is not None
    }


def listed(told: Sequence[Mapping[str, Any]], plots: Mapping[str, SurvivalPlot]) -> list[GapPlot]:
    return [GapPlot(row["living"], row["wanted"], plots.get(row["plot"])) for row in told]


def map_of_gaps(actor: Actor, block: Block, gaps: Gaps | None) -> dict[str, Any]:
    """A block with its plots in use, those below the target dark and the others grey; empty without a right."""
    if gaps is None or not gaps.plots or not actor.may("plot.view"):
        return {"features": []}
    below = {row.plot.pk: row for row in gaps.plots if row.plot is not None}
    shapes = block_shapes(block, block.grounds.order_by("-version").first())
    ground = [shape for shape in shapes["features"] if shape["properties"]["kind"] == "block"]
    shapes["features"] = ground or shapes["features"]  # the whole site would make the block small
    placed = access.visible_plots(actor).filter(
        block=block, retired_at__isnull=True, latitude__isnull=False, longitude__isnull=False
    )
    for plot in placed.order_by("name", "id"):
        kind = "plot" if plot.pk in below else "kept"
        shapes["features"].append(feature(at(plot.latitude, plot.longitude), kind, plot.name))
    return shapes

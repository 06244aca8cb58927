"""The numbers behind "How many plots, and where": what is known of a project, what plots buy, how they are shared."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from monitoring.calc.pooled_correlation import Correlation, correlation_of
from monitoring.estimators import rows
from monitoring.estimators.allocation import OPTIMAL_COST, allocate
from monitoring.estimators.plot_geometry import (
    CENSUS,
    CIRCLE,
    ROW,
    circle_area_m2,
    expected_trees,
    radius_for,
    shape_advice,
)
from monitoring.estimators.sample_size import (
    PlotsBuy,
    PlotsNeeded,
    design_effect,
    plots_needed,
    what_plots_buy,
)
from monitoring.models import Estimate, SurveyRound
from monitoring.selectors.plot_draws import USUAL_TREES, BlockFacts
from projects.models import Project

SHOWN_PLOTS = (5, 8, 10, 12, 15, 18, 20, 25, 30, 40, 50, 60, 80, 100, 150, 200)
ROWS_BEYOND = 4  # rows shown past the wish
HOLDINGS = "holdings"
EVERY_BLOCK = "all"
USUAL_HALF_WIDTH, USUAL_LEVEL, USUAL_PLOTS_PER_DAY = 0.10, 0.95, 8


# --- what is known ------------------------------------------------------------------------------
@dataclass(frozen=True)
class Known:
    """What the project's last counted round says, to plan the next one by."""

    survey_round: SurveyRound | None
    survival: dict[str, float]  # by block uid, "" for the project
    correlation: Correlation

    def expected(self, key: str, target: float) -> float:
        """The survival to expect, kept off 0 and 1 where nothing could be planned."""
        share = self.survival.get(key, self.survival.get("", target))
        return min(max(round(share, 3), 0.02), 0.98)


def known_of(project: Project) -> Known:
    """Read the survival and the design effects of the last round that has figures."""
    stored = Estimate.objects.filter(
        project=project, measure=rows.SURVIVAL, value__isnull=False, round__isnull=False,
        scope__in=("block", "project"),
    )  # fmt: skip
    last = stored.order_by("-round__opens_on", "-round_id").select_related("round").first()
    if last is None:
        return Known(None, {}, correlation_of([], [], []))
    found = list(stored.filter(round=last.round).select_related("block"))
    heads = [row for row in found if row.is_headline]
    survival = {str(row.block.uid) if row.block else "": float(row.value or 0) for row in heads}
    spread = [row for row in found if row.scope == "block" and row.method == rows.RATIO_LOGIT_T]
    correlation = correlation_of(
        [math.nan if row.deff is None else row.deff for row in spread],
        [row.n_plots for row in spread],
        [row.n_trees for row in spread],
    )
    if "" not in survival and len(survival) == 1:
        survival[""] = next(iter(survival.values()))
    return Known(last.round, survival, correlation)


def defaults(project: Project, known: Known) -> dict[str, Any]:
    """What the form says before anybody changes it."""
    return {
        "of": EVERY_BLOCK,
        "survival": percent_text(known.expected("", float(project.target_survival))),
        "half_width": percent_text(USUAL_HALF_WIDTH),
        "icc": f"{known.correlation.value:g}",
        "trees_per_plot": str(USUAL_TREES),
        "level": percent_text(USUAL_LEVEL),
        "plots_per_day": str(USUAL_PLOTS_PER_DAY),
        "rule": "proportional",
    }


def percent_text(share: float) -> str:
    return f"{share * 100:.4g}"


# --- one page -----------------------------------------------------------------------------------
@dataclass(frozen=True)
class BlockShare:
    """One block in the sharing-out."""

    facts: BlockFacts
    shape: str  # circle, row, whole_block, holdings; "" where nothing is known of it
    trees_in_plot: float
    radius_m: float | None
    survival: float
    per_day: float
    plots: int
    is_own: bool  # the number was written by hand

    @property
    def days(self) -> float:
        return self.plots / self.per_day

    @property
    def trees_counted(self) -> int:
        return round(self.plots * self.trees_in_plot)

    @property
    def holds(self) -> int | None:
        """Plots the block could hold."""
        if not self.facts.trees or self.trees_in_plot <= 0:
            return None
        return max(1, int(self.facts.trees / self.trees_in_plot))


@dataclass(frozen=True)
class Design:
    """The answers to one form."""

    survival: float
    target: float
    half_width: float
    level: float
    trees_in_plot: float
    block_plots: int | None
    needed: PlotsNeeded | None
    table: tuple[PlotsBuy, ...]
    chosen: PlotsBuy | None  # the row that reaches the wish
    shares: list[BlockShare]
    total: int
    problem: str  # why plots could not be shared out: a code

    @property
    def n_shared(self) -> int:
        return sum(share.plots for share in self.shares)

    @property
    def days(self) -> float:
        return sum(share.days for share in self.shares)

    @property
    def is_near_target(self) -> bool:
        """So near the target that no affordable number of plots settles the question often."""
        return bool(self.table) and max(row.chance_settled for row in self.table) < 0.5


def design(
    project: Project, blocks: Sequence[BlockFacts], values: dict[str, Any], own: Any, known: Known
) -> Design:
    """Answer a valid form. `own` gives what was written for one block."""
    chosen = [facts for facts in blocks if values["of"] in (EVERY_BLOCK, str(facts.block.uid))]
    shares = [
        block_share(facts, values, own(facts), known, float(project.target_survival)) for facts in chosen
    ]
    sampled = telling(shares)
    trees = sum(share.facts.trees for share in sampled)
    in_plot = mean_trees(sampled, values)
    held = max(2, round(trees / in_plot)) if trees else None
    asked: dict[str, Any] = {
        "survival": float(values["survival"]),
        "trees_per_plot": in_plot,
        "icc": values["icc"],
    }
    needed = needed_or_none(asked, values, held)
    numbers = plots_shown(needed, held)
    table = what_plots_buy(
        numbers, **asked, target=float(project.target_survival), level=float(values["level"]),
        decision_level=float(project.replanting_level), block_plots=held,
        plots_per_person_day=values["plots_per_day"],
    )  # fmt: skip
    total = values.get("total") or (needed.plots if needed else 2 * len(sampled))
    shares, problem = shared_out(shares, total, values)
    return Design(
        survival=asked["survival"], target=float(project.target_survival), half_width=float(values["half_width"]),
        level=float(values["level"]), trees_in_plot=in_plot, block_plots=held, needed=needed, table=table,
        chosen=next((row for row in table if needed and row.plots == needed.plots), None), shares=shares,
        total=total, problem=problem,
    )  # fmt: skip


def block_share(
    facts: BlockFacts, values: dict[str, Any], own: dict[str, Any], known: Known, target: float
) -> BlockShare:
    """What a plot of one block would be, before plots are shared out."""
    shape, in_plot, radius_m = plot_shape(facts, values)
    survival = own["survival"]
    return BlockShare(
        facts=facts,
        shape=shape,
        trees_in_plot=in_plot,
        radius_m=radius_m,
        survival=float(survival) if survival is not None else known.expected(str(facts.block.uid), target),
        per_day=own["per_day"] or values["plots_per_day"],
        plots=own["plots"] or 0,
        is_own=own["plots"] is not None,
    )


def plot_shape(facts: BlockFacts, values: dict[str, Any]) -> tuple[str, float, float | None]:
    """Advise a shape for a block: (shape, trees a plot would hold, radius where it is a circle)."""
    wished = float(values.get("trees_per_plot") or USUAL_TREES)
    if facts.is_list:
        return HOLDINGS, max(facts.trees / facts.n_holdings, 1.0) if facts.n_holdings else wished, None
    if facts.is_census:
        return CENSUS, float(facts.trees), None
    if facts.density_per_ha is None or facts.net_area_ha is None:
        return ("", wished, None) if not facts.is_row else (ROW, wished, None)
    given = values.get("radius_m")
    radius_m = given or round(radius_for(wished, facts.density_per_ha), 2)
    advice = shape_advice(facts.density_per_ha, facts.net_area_ha, radius_m)
    if advice.shape == CENSUS:
        return CENSUS, float(facts.trees), None
    if facts.is_row or advice.shape == ROW or circle_is_too_wide(radius_m, facts.net_area_ha):
        return ROW, wished, None
    in_plot = expected_trees(facts.density_per_ha, circle_area_m2(radius_m)) if given else wished
    return CIRCLE, max(in_plot, 1.0), radius_m


def circle_is_too_wide(radius_m: float, net_area_ha: float) -> bool:
    """Whether one circle would cover more than a tenth of a block."""
    return circle_area_m2(radius_m) > net_area_ha * 1000


def mean_trees(shares: Sequence[BlockShare], values: dict[str, Any]) -> float:
    """Trees a plot holds on average, each block weighed by its trees."""
    weight = np.array([max(share.facts.trees, 1) for share in shares], float)
    if not weight.size:
        return float(values.get("trees_per_plot") or USUAL_TREES)
    return max(1.0, float(np.average([share.trees_in_plot for share in shares], weights=weight)))


def needed_or_none(asked: dict[str, Any], values: dict[str, Any], held: int | None) -> PlotsNeeded | None:
    """Plots for the wished half-width; None where no number of plots gives it."""
    try:
        return plots_needed(
            asked["survival"], float(values["half_width"]), trees_per_plot=asked["trees_per_plot"], icc=asked["icc"],
            level=float(values["level"]), block_plots=held,
        )  # fmt: skip
    except ValueError:
        return None


def plots_shown(needed: PlotsNeeded | None, held: int | None) -> list[int]:
    """The numbers of plots to compare: round ones, the one that reaches the wish, and a few beyond it."""
    wish = needed.plots if needed else SHOWN_PLOTS[8]
    beyond = [number for number in SHOWN_PLOTS if number > wish][:ROWS_BEYOND]
    shown = {number for number in SHOWN_PLOTS if number < wish} | {wish, *beyond}
    return sorted(number for number in shown if held is None or number <= held)


def telling(shares: Sequence[BlockShare]) -> list[BlockShare]:
    """Blocks whose plots answer together: sampled ones, seed spots only where nothing else is asked about.

    Spot occupancy is never pooled with survival, so plots of spots are no part of the number for survival.
    """
    sampled = [share for share in shares if share.shape not in (CENSUS, "")]
    return [share for share in sampled if not share.facts.are_spots] or sampled


# --- sharing out --------------------------------------------------------------------------------
def shared_out(shares: list[BlockShare], total: int, values: dict[str, Any]) -> tuple[list[BlockShare], str]:
    """Give every block its plots: written ones stay, the rest of the total follows the rule, at least two each."""
    told = telling(shares)
    waiting = [share for share in told if not share.is_own and share.facts.trees]
    left = total - sum(share.plots for share in told if share.is_own)
    given, problem = allocated(waiting, left, values)
    plots = {share.facts.block.pk: number for share, number in zip(waiting, given, strict=True)}
    return [with_plots(share, plots.get(share.facts.block.pk)) for share in shares], problem


def with_plots(share: BlockShare, plots: int | None) -> BlockShare:
    """The share with its plots; a census is one plot."""
    if share.is_own:
        return share
    number = 1 if share.shape == CENSUS else plots or 0
    return BlockShare(
        share.facts,
        share.shape,
        share.trees_in_plot,
        share.radius_m,
        share.survival,
        share.per_day,
        number,
        False,
    )


def allocated(waiting: Sequence[BlockShare], left: int, values: dict[str, Any]) -> tuple[Sequence[int], str]:
    """Plots of the blocks that follow the rule; two each, with a code, where the total does not reach."""
    if not waiting:
        return (), ""
    by_cost = values["rule"] == OPTIMAL_COST
    try:
        found = allocate(
            left / float(values["plots_per_day"]) if by_cost else left,
            sizes=[share.facts.trees for share in waiting],
            spreads=[spread_of(share, values["icc"]) for share in waiting],
            costs=[1 / share.per_day for share in waiting] if by_cost else None,
            rule=values["rule"],
            at_most=[share.holds for share in waiting],
        )
    except ValueError:
        return [2] * len(waiting), "too_few_for_blocks"
    return found.plots, ""


def spread_of(share: BlockShare, icc: float) -> float:
    """Standard deviation of survival from plot to plot that is expected in a block. [share]"""
    p, m = share.survival, share.trees_in_plot
    return math.sqrt(p * (1 - p) * float(design_effect(m, icc)) / m)

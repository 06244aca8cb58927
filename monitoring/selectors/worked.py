"""The counts behind one figure, step by step, for the worked examples of the method pages.

A figure is a stored row; its counts are read as the estimators read them, in a fixed number of queries. Without a
figure of the reader's own an example stands in, worked by the same code.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

import numpy as np

from monitoring import access
from monitoring.estimators import rows
from monitoring.estimators.domains import gather, sample_of
from monitoring.estimators.measures import Measure, domains_of, flagged_lines, measures_of
from monitoring.estimators.rows import EstimateSettings
from monitoring.estimators.strata import PlotTotals
from monitoring.estimators.table import CountTable
from monitoring.models import Estimate, PerformanceRow, ReplacementNeed, SurveyRound, SurvivalPlot
from monitoring.selectors import stocking_rows
from monitoring.selectors.headlines import subjects
from monitoring.selectors.results import rounded_up
from monitoring.selectors.round_counts import RoundCounts, round_counts
from projects.access import Actor, get_or_404
from projects.models import Block, Site, StockType

SHOWN = 40  # plots listed; a block of hundreds would bury the steps
STOCKING = (
    rows.STOCKING, rows.STOCKING_PLANTED, rows.STOCKING_NATURAL, rows.STOCKING_CAPPED, rows.PLOTS_STOCKED,
)  # fmt: skip


@dataclass(frozen=True)
class PlotCounts:
    """One plot: living of counted, or trees on its ground."""

    label: str
    alive: int
    trees: int = 0
    area_m2: float = 0.0
    natural: int = 0


@dataclass(frozen=True)
class BlockCounts:
    """One block as a stratum: what was counted in it, and the trees it stands for."""

    label: str
    plots: int
    alive: int
    trees: int
    weight: float  # trees that each counted tree stands for

    @property
    def all_alive(self) -> float:
        return self.weight * self.alive

    @property
    def all_trees(self) -> float:
        return self.weight * self.trees


@dataclass(frozen=True)
class Worked:
    """A figure with the counts it rests on.

    `beside` are the same figure's rows by other methods; `if_found` the same with the trees not found living.
    """

    figure: Any
    label: str
    survey_round: SurveyRound | None = None
    plots: tuple[PlotCounts, ...] = ()
    blocks: tuple[BlockCounts, ...] = ()
    parts: tuple["Part", ...] = ()
    beside: tuple[Any, ...] = ()
    if_found: Any = None
    facts: Mapping[str, Any] = field(default_factory=dict)
    target: float | None = None
    source: str = ""  # of an example that is not the reader's
    peer: PerformanceRow | None = None
    need: ReplacementNeed | None = None

    @property
    def shown(self) -> tuple[PlotCounts, ...]:
        return self.plots[:SHOWN]

    @property
    def n_more(self) -> int:
        return len(self.plots) - len(self.shown)

    @property
    def several(self) -> bool:
        return len(self.blocks) > 1

    @property
    def alive(self) -> float:
        """Living trees, each standing for those of its block where there are several."""
        return sum(block.all_alive if self.several else block.alive for block in self.blocks)

    @property
    def trees(self) -> float:
        return sum(block.all_trees if self.several else block.trees for block in self.blocks)

    @property
    def area_m2(self) -> float:
        return sum(plot.area_m2 for plot in self.plots)

    @property
    def on_ground(self) -> int:
        return sum(plot.alive + plot.natural for plot in self.plots)

    @property
    def per_ha(self) -> float | None:
        return 10_000 * self.on_ground / self.area_m2 if self.area_m2 else None

    @property
    def value(self) -> float | None:
        return self.alive / self.trees if self.trees else None

    @property
    def not_found(self) -> int:
        """Trees not found behind the figure, where the counts beside it are known."""
        return self.facts.get("not_found", 0) if {"planted", "alive"} <= self.facts.keys() else 0

    @property
    def scale(self) -> float:
        """The value at the right edge of the bar."""
        if self.figure.measure in STOCKING and self.figure.measure != rows.PLOTS_STOCKED:
            return rounded_up(max(self.figure.upper or 0, self.target or 0))
        return 100 if self.figure.measure == rows.SEEDLINGS_PER_100_SEEDS else 1

    @property
    def lower_one_sided(self) -> float | None:
        """The limit that has to reach the target, at the level of decisions."""
        return self.figure.lower_one_sided

    @property
    def upper_one_sided(self) -> float | None:
        """The limit below which the target is missed: with the trees not found living."""
        return (self.if_found or self.figure).upper_one_sided

    @property
    def linearised(self) -> Any:
        """The row that gives the standard error and limits from the spread between plots."""
        named = (rows.RATIO_LOGIT_T, rows.STRATIFIED_LOGIT_T, rows.STRATIFIED_LOGIT_T_DESIGN_DF)
        return next((row for row in (self.figure, *self.beside) if row.method in named), None)

    @property
    def is_behind(self) -> bool:
        """Counts came in after the figure was computed, so that the steps lead elsewhere."""
        mine = self.value
        if mine is None or self.figure.value is None:
            return False
        per_hundred = 100 if self.figure.measure == rows.SEEDLINGS_PER_100_SEEDS else 1
        return abs(self.figure.value - mine * per_hundred) > 1e-6


def explained(actor: Actor, uid: UUID) -> Worked:
    """The steps behind a stored figure, comparison or need that the actor may see; 404 for any other."""
    related = ("round__project", "round__organisation", "block")
    figure = (
        access.visible_estimates(actor).filter(uid=uid, round__isnull=False).select_related(*related).first()
    )
    if figure is not None:
        return worked_example(figure)
    peer = access.visible_performance(actor).filter(uid=uid).select_related("round").first()
    if peer is not None:
        subject = subjects([(peer.scope, peer.key)]).get((peer.scope, peer.key))
        return Worked(peer, str(subject or peer.get_scope_display()), peer.round, peer=peer)
    need = get_or_404(access.visible_needs(actor).select_related("round", "block", "species"), uid=uid)
    label = f"{need.block.name}: {need.species}" if need.species else need.block.name
    return Worked(need, label, need.round, need=need)


def worked_example(figure: Estimate) -> Worked:
    """The reader's own figure with its counts."""
    survey_round = figure.round
    rows_of_thing = list(
        Estimate.objects.filter(round=survey_round, scope=figure.scope, key=figure.key).order_by(
            "measure", "method"
        )
    )
    names = named(figure)
    heads = {row.measure: row for row in rows_of_thing if row.is_headline}
    counts = round_counts(survey_round, figure.block_id)
    common: dict[str, Any] = {
        "figure": figure,
        "label": label_of(figure, names, survey_round),
        "survey_round": survey_round,
        "beside": tuple(r for r in rows_of_thing if r.measure == figure.measure and r.pk != figure.pk),
        "if_found": heads.get(rows.SURVIVAL_IF_FOUND) if figure.measure == rows.SURVIVAL else None,
        "facts": heads[figure.measure].facts if figure.measure in heads else figure.facts,
    }
    if figure.measure in STOCKING:
        within = figure.block_id is not None
        return Worked(
            **common,
            plots=plots_on_ground(counts) if within else (),
            parts=() if within else parts_of(counts, figure),
            target=float(only) if within and (only := counts.blocks[0].target_per_ha) else None,
        )
    target = float(survey_round.project.target_survival) if figure.measure == rows.SURVIVAL else None
    measure = next((m for m in measures_of(counts.table) if m.name == figure.measure), None)
    if measure is None:
        return Worked(**common, target=target)
    plots, blocks = counted(counts.table, figure.scope, figure.key, measure, Names(counts))
    return Worked(**common, target=target, plots=plots, blocks=blocks)


FIRST_OF = {  # page: scope and measure of the figure a round lends it
    "survival": ("block", rows.SURVIVAL),
    "across-blocks": ("project", rows.SURVIVAL),
    "not-found": ("project", rows.SURVIVAL),
    "outcome": ("block", rows.SURVIVAL),
    "stocking": ("block", rows.STOCKING),
    "season-totals": ("project", rows.SURVIVAL),
}


def figure_of_round(survey_round: SurveyRound, page: str) -> Estimate | None:
    """The first figure of a round that a page can explain; None where the round has none."""
    if page not in FIRST_OF:
        return None
    scope, measure = FIRST_OF[page]
    found = Estimate.objects.filter(
        round=survey_round, scope=scope, measure=measure, is_headline=True, value__isnull=False
    )
    return (
        found.select_related("round__project", "round__organisation", "block")
        .order_by("block__name", "key")
        .first()
    )


def label_of(figure: Estimate, names: Mapping[tuple[str, str], Any], survey_round: SurveyRound) -> str:
    """What the figure is about, by name."""
    if figure.scope == "project":
        return survey_round.project.name
    if figure.scope == "stock_type" and figure.key in StockType.values:
        return str(StockType(figure.key).label)
    found = names.get((figure.scope, figure.key))
    if figure.scope == "block_species" and figure.block is not None:
        species = names.get(("species", figure.key.partition(":")[2]))
        return f"{figure.block.name}: {species}" if species else figure.block.name
    return str(found) if found is not None else figure.get_scope_display()


def named(figure: Estimate) -> dict[tuple[str, str], Any]:
    """What the key of a figure stands for."""
    if figure.scope == "site":
        site = Site.objects.filter(organisation=figure.organisation_id, uid=figure.key).first()
        return {("site", figure.key): site} if site else {}
    scope = "species" if figure.scope == "block_species" else figure.scope
    return subjects([(scope, figure.key.rpartition(":")[2])])


class Names:
    """Names of plots and blocks by their codes in a count table, two queries in all."""

    def __init__(self, counts: RoundCounts) -> None:
        self._counts = counts
        ids = [visit.plot_id for visit in counts.visits]
        self._plots = dict(SurvivalPlot.objects.filter(id__in=ids).values_list("id", "name"))
        self._blocks = dict(
            Block.objects.filter(id__in=[b.id for b in counts.blocks]).values_list("id", "name")
        )

    def plot(self, code: int) -> str:
        return self._plots.get(self._counts.visits[code].plot_id, "")

    def block(self, code: int) -> str:
        return self._blocks.get(self._counts.blocks[code].id, "")


def counted(
    table: CountTable, scope: str, key: str, measure: Measure, names: Any
) -> tuple[tuple[PlotCounts, ...], tuple[BlockCounts, ...]]:
    """Plots and blocks of one thing, as they enter its ratio of totals."""
    domains, settings = domains_of(table, scope), EstimateSettings()
    if key not in domains.keys:
        return (), ()
    sample = sample_of(table, settings)
    gathered = gather(table, domains, measure, flagged_lines(table), sample.visited)
    chosen = np.flatnonzero(gathered.totals.domain == domains.keys.index(key))
    totals = gathered.totals
    codes = plots_of(table, domains.code == domains.keys.index(key), measure)
    plots = tuple(
        PlotCounts(names.plot(code), int(totals.alive[place]), int(totals.trees[place]))
        for code, place in zip(codes, chosen, strict=True)
    )
    return tuple(sorted(plots, key=lambda plot: plot.label)), blocks_of(totals, chosen, names)


def plots_of(table: CountTable, inside: Any, measure: Measure) -> Sequence[int]:
    """Codes of the plots that enter, in the order in which totals are given."""
    lines = inside & measure.applies & (measure.trees > 0)
    return [int(code) for code in np.unique(table.plot[lines])]


def blocks_of(totals: PlotTotals, chosen: Any, names: Any) -> tuple[BlockCounts, ...]:
    """Sums by block, with the trees that each counted tree of it stands for."""
    found = []
    for block in np.unique(totals.block[chosen]):
        here = chosen[totals.block[chosen] == block]
        found.append(
            BlockCounts(
                names.block(int(block)), here.size, int(totals.alive[here].sum()), int(totals.trees[here].sum()),
                float(totals.weight[here[0]]),
            )
        )  # fmt: skip
    return tuple(found)


def plots_on_ground(counts: RoundCounts) -> tuple[PlotCounts, ...]:
    """Plots whose area is known, with the trees living on them."""
    names, blocks = Names(counts), {block.id: block for block in counts.blocks}
    areas = np.array([stocking_rows.plot_area_m2(v, blocks[v.block_id]) for v in counts.visits], dtype=float)
    planted, natural = stocking_rows.planted_living(counts), stocking_rows.natural_living(counts, areas)
    found = [
        PlotCounts(
            names.plot(code), int(planted[code]), area_m2=float(areas[code]), natural=int(natural[code])
        )
        for code in map(int, np.flatnonzero(areas > 0))
    ]
    return tuple(sorted(found, key=lambda plot: plot.label))


@dataclass(frozen=True)
class Part:
    """One block of a stocking figure pooled by net area."""

    label: str
    net_area_ha: float | None
    figure: Estimate


def parts_of(counts: RoundCounts, figure: Estimate) -> tuple[Part, ...]:
    """The same figure of each block, with the area it is weighted by."""
    areas = {block.id: block.net_area_ha for block in counts.blocks}
    found = Estimate.objects.filter(
        round=figure.round, scope="block", measure=figure.measure, is_headline=True
    ).select_related("block")
    return tuple(
        Part(row.block.name, areas.get(row.block_id), row)
        for row in found.order_by("block__name")
        if row.block
    )

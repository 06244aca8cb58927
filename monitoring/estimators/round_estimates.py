"""All figures of a round from its counts: the one function behind the command line and the recompute service.

>>> from monitoring.estimators.table import BlockFacts, CountTable
>>> table = CountTable.build(
...     block=[0, 0, 0, 0, 1, 1, 1], plot=range(7),
...     planted=[10, 10, 10, 10, 8, 9, 8], alive=[8, 9, 7, 10, 3, 5, 4],
...     blocks=BlockFacts.build(2, planted=[9600, 4400]), labels={"project": ("P",), "block": ("A", "B")})
>>> for row in round_estimates(table, scopes=("project", "block")):
...     if row.is_headline and row.measure == "survival":
...         print(row.scope, row.key, row.method, round(row.value, 4))
project P stratified_logit_t 0.7337
block A beta_binomial_posterior 0.85
block B beta_binomial_posterior 0.48
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitoring.estimators import rows
from monitoring.estimators.domains import Gathered, PlotIndexes, gather, outside_sample, sample_of
from monitoring.estimators.icc import pooled_icc
from monitoring.estimators.limits import (
    PosteriorBatch,
)
from monitoring.estimators.measures import (
    COHORT_SCOPES,
    WHOLE_SCOPES,
    Domains,
    Measure,
    domains_of,
    flagged_lines,
    measures_of,
)
from monitoring.estimators.round_rows import RoundPart
from monitoring.estimators.rows import EstimateRow, EstimateSettings
from monitoring.estimators.strata import RatioEstimates, Sample, ratio_estimates
from monitoring.estimators.sums import distinct
from monitoring.estimators.table import TREE, CountTable, Ints


def round_estimates(
    table: CountTable, settings: EstimateSettings | None = None, *, scopes: Iterable[str] = rows.SCOPES
) -> tuple[EstimateRow, ...]:
    """Every scope × measure × method the counts allow, in a fixed order.

    Parameters
    ----------
    table : counts of one round.
    settings : levels and conventions; the defaults of `EstimateSettings` when left out.
    scopes : which scopes to give, a subset of `rows.SCOPES`.

    Returns
    -------
    tuple of EstimateRow
        Each (scope, key, measure) has exactly one headline row, which may be `not_estimable` with the reason.
        Within one block the posterior leads; across blocks the stratified logit-t; a whole-block census has
        no sampling error.

    Notes
    -----
    Sums over trees are integers; sums over plots run in the order of the plot codes. The same codes and
    counts give the same bytes whatever the order of the rows.
    """
    settings = settings or EstimateSettings()
    measures = [measure for measure in measures_of(table) if _asked(table, measure)]
    outside = {measure.name: outside_sample(table, measure) for measure in measures}
    samples = {name: sample_of(table, settings, lines) for name, lines in outside.items()}
    work = _Work(table, settings, samples, outside, flagged_lines(table), PosteriorBatch(settings))
    parts = [part for scope in scopes for part in work.parts(scope, measures)]
    work.batch.solve()
    return tuple(row for part in parts for row in part.written(work.batch))


@dataclass(frozen=True, slots=True)
class _Work:
    """What all parts of one round share."""

    table: CountTable
    settings: EstimateSettings
    samples: Mapping[str, Sample]  # by measure
    outside: Mapping[str, NDArray[np.bool_] | None]  # lines of plots outside the sample of a measure
    flagged: NDArray[np.bool_]
    batch: PosteriorBatch

    def parts(self, scope: str, measures: Iterable[Measure]) -> Iterable["RoundPart"]:
        """Estimate one scope for every measure."""
        indexes = PlotIndexes(self.table, domains_of(self.table, scope))
        return [self.part(scope, measure, indexes) for measure in measures]

    def part(self, scope: str, measure: Measure, indexes: PlotIndexes) -> "RoundPart":
        """Estimate one scope × measure for all its domains, posteriors still to come."""
        domains, sample = indexes.domains, self.samples[measure.name]
        gathered = gather(self.table, domains, measure, self.flagged, sample.visited, indexes)
        whole, n_domains = scope in WHOLE_SCOPES, len(domains.keys)
        ratio = ratio_estimates(
            gathered.totals, sample, n_domains, whole=whole, lonely=self.settings.lonely_block
        )
        census = _whole(gathered, sample.fraction >= 1, n_domains) & (ratio.n_held > 0)
        reasons = self._reasons(scope, measure, domains, gathered, ratio, census)
        single = ~gathered.several & ~census & (reasons == "")
        return RoundPart(
            scope=scope,
            measure=measure,
            keys=domains.keys,
            settings=self.settings,
            gathered=gathered,
            ratio=ratio,
            separate=self._separate(gathered, sample, n_domains) if whole else None,
            census=census,
            reasons=reasons,
            warnings=self._warnings(scope, measure, domains, gathered, ratio),
            tickets=self.batch.request(gathered.totals, np.flatnonzero(single), n_domains),
            pooled=pooled_icc(gathered.totals, n_domains) if scope == "block" else None,
            shown=self._shown(scope, measure, domains, gathered),
            visited=self._plots(whole, measure, domains, ratio),
        )

    def _separate(self, gathered: Gathered, sample: Sample, n_domains: int) -> RatioEstimates | None:
        """Residuals about each block's own ratio, beside the pooled ones where blocks weigh by trees planted."""
        if not gathered.several.any():
            return None
        return ratio_estimates(gathered.totals, sample, n_domains, whole=True, about_own_block=True)

    def _plots(self, whole: bool, measure: Measure, domains: Domains, ratio: RatioEstimates) -> Ints:
        """Plots that entered: visited ones for whole blocks, empty ones included; else those holding it.

        Blocks that hold nothing of the measure (seed spots, where trees are asked for) lend no plots to it.
        """
        if not whole:
            return ratio.n_held
        has, n_plots = domains.code >= 0, int(self.table.plot.max(initial=0)) + 1
        lines = measure.applies & (self.table.planted > 0)
        inside = (np.bincount(self.table.block, lines, self.table.n_blocks) > 0)[self.table.block]
        nowhere = ~_lines_with(domains, inside)
        outside = self.outside[measure.name]
        counted = inside if outside is None else inside & ~outside
        has[has] = counted[has] | nowhere[domains.code[has]]
        pairs, _ = distinct(domains.code[has] * n_plots + self.table.plot[has])
        return np.bincount(pairs // n_plots, minlength=len(domains.keys))

    def _reasons(
        self,
        scope: str,
        measure: Measure,
        domains: Domains,
        gathered: Gathered,
        ratio: RatioEstimates,
        census: NDArray[np.bool_],
    ) -> NDArray[np.str_]:
        """Why each domain is not estimable; empty where it is."""
        few = ratio.n_held < (2 if scope in WHOLE_SCOPES else self.settings.minimum_plots)
        has = _lines_with(domains, measure.applies & (self.table.planted > 0))
        living = _lines_with(domains, measure.applies & (self.table.alive > 0))
        visited = _lines_with(domains, np.ones_like(measure.applies))
        return np.select(
            [
                ~visited,
                ~has & living,
                ~has,
                ratio.n_held == 0,
                census,
                gathered.weightless,
                ratio.n_held == 1,
                few,
                gathered.several & ~(ratio.df_design > 0),
            ],
            [
                rows.NO_PLOTS,
                rows.NO_BASELINE,
                rows.NOTHING_PLANTED,
                rows.NOTHING_ASSESSED,
                "",
                rows.BLOCK_WEIGHT_MISSING,
                rows.ONE_PLOT,
                rows.TOO_FEW_PLOTS,
                rows.ONE_PLOT_EACH,
            ],
            default="",
        )

    def _warnings(
        self, scope: str, measure: Measure, domains: Domains, gathered: Gathered, ratio: RatioEstimates
    ) -> list[NDArray[np.str_]]:
        left_out = np.zeros(self.table.n_blocks, bool)
        if scope in COHORT_SCOPES:
            left_out[self.table.block[(domains.code < 0) & (self.table.planted > 0)]] = True
        totals, n_domains = gathered.totals, len(domains.keys)
        incomplete = np.bincount(totals.domain, left_out[totals.block], n_domains) > 0
        return [
            np.where(gathered.several & (ratio.n_lonely > 0), rows.LONELY_BLOCK, ""),
            np.where(gathered.by_plots, rows.WEIGHTED_BY_PLOTS, ""),
            np.where(gathered.uneven & ~gathered.several, rows.UNEQUAL_PLOT_WEIGHTS, ""),
            np.where(incomplete, rows.LINES_LEFT_OUT, ""),
            np.where(self._plots_left_out(scope, measure, domains), rows.PLOTS_WITHOUT_BASELINE, ""),
            np.where(self._blocks_left_out(scope, measure, domains), rows.BLOCK_LEFT_OUT, ""),
        ]

    def _plots_left_out(self, scope: str, measure: Measure, domains: Domains) -> NDArray[np.bool_]:
        """Whole domains with plots that are outside the sample of the measure."""
        outside = self.outside[measure.name]
        if scope not in WHOLE_SCOPES or outside is None or measure.name == rows.SHARE_OF_VISIBLE_SPOTS:
            return np.zeros(len(domains.keys), bool)
        return _lines_with(domains, outside)

    def _blocks_left_out(self, scope: str, measure: Measure, domains: Domains) -> NDArray[np.bool_]:
        """Domains with a visited block that was planted, but shows no tree of the measure to judge."""
        n_blocks, block = self.table.n_blocks, self.table.block
        if scope not in ("project", "site") or measure.unit != TREE:
            return np.zeros(len(domains.keys), bool)
        planted = self.table.planted > 0
        judged = np.bincount(block, measure.applies & (measure.trees > 0), n_blocks) > 0
        holds = np.bincount(block, measure.applies & planted, n_blocks) > 0
        bare = np.bincount(block, planted, n_blocks) == 0
        silent = ~judged & (holds | bare) & (self.table.blocks.planted > 0)
        return _lines_with(domains, silent[block])

    def _shown(self, scope: str, measure: Measure, domains: Domains, gathered: Gathered) -> NDArray[np.bool_]:
        """Domains with lines for the measure; an empty or unvisited block also shows, under survival."""
        if measure.only_where_removed:
            return gathered.n_removed > 0
        shown = _lines_with(domains, measure.applies & (self.table.planted > 0))
        if scope == "block" and measure.name == rows.SURVIVAL:
            shown = shown | ~_lines_with(domains, self.table.planted > 0)
        return shown


def _asked(table: CountTable, measure: Measure) -> bool:
    """A measure that shows only where trees were removed is left out where none was."""
    return not measure.only_where_removed or bool((table.removed[measure.applies] > 0).any())


def _whole(gathered: Gathered, counted_whole: NDArray[np.bool_], n_domains: int) -> NDArray[np.bool_]:
    """Domains all of whose blocks were counted whole: called a census, or every plot they hold was visited."""
    sampled = np.bincount(gathered.totals.domain, ~counted_whole[gathered.totals.block], n_domains)
    return sampled == 0


def _lines_with(domains: Domains, condition: NDArray[np.bool_]) -> NDArray[np.bool_]:
    codes = domains.code[condition & (domains.code >= 0)]
    return np.bincount(codes, minlength=len(domains.keys)) > 0

"""Writes one scope × measure of a round out as rows."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitoring.estimators import rows
from monitoring.estimators.domains import Gathered
from monitoring.estimators.icc import PooledIcc
from monitoring.estimators.limits import (
    LIMIT_FIELDS,
    PosteriorBatch,
    logit_t_limits,
    satterthwaite_limits,
    wilson_limits,
)
from monitoring.estimators.measures import Measure
from monitoring.estimators.rows import EstimateRow, EstimateSettings, rounded
from monitoring.estimators.strata import RatioEstimates
from monitoring.estimators.table import Floats, Ints


@dataclass(frozen=True, slots=True)
class RoundPart:
    """One scope × measure, ready to be written out as rows once the posteriors are solved."""

    scope: str
    measure: Measure
    keys: tuple[str, ...]
    settings: EstimateSettings
    gathered: Gathered
    ratio: RatioEstimates
    separate: RatioEstimates | None
    census: NDArray[np.bool_]
    reasons: NDArray[np.str_]
    warnings: list[NDArray[np.str_]]
    tickets: Ints
    pooled: PooledIcc | None
    shown: NDArray[np.bool_]
    visited: Ints

    def written(self, batch: PosteriorBatch) -> Iterator[EstimateRow]:
        """The rows of every shown domain, the headline first."""
        design = logit_t_limits(self.ratio, self.ratio.df_design, self.settings)
        satterthwaite = satterthwaite_limits(self.ratio, self.settings)
        separate = satterthwaite_limits(self.separate, self.settings) if self.separate else None
        wilson = wilson_limits(self.ratio, self.pooled, self.settings) if self.pooled else None
        for domain in map(int, np.flatnonzero(self.shown)):
            if self.reasons[domain]:
                yield self._row(domain, self._lead(domain), status=rows.NOT_ESTIMABLE, is_headline=True)
            elif self.census[domain]:
                exact = np.full(6, self.ratio.value[domain])
                yield self._row(domain, rows.CENSUS, exact, is_headline=True)
            elif self.gathered.several[domain]:
                yield self._row(domain, rows.STRATIFIED_LOGIT_T, satterthwaite[domain], is_headline=True)
                yield self._row(domain, rows.STRATIFIED_LOGIT_T_DESIGN_DF, design[domain])
                if separate is not None and self._has_separate(domain):
                    yield self._row(domain, rows.STRATIFIED_SEPARATE_RATIO, separate[domain], self.separate)
            else:
                yield from self._within_block(domain, batch, design[domain], wilson)

    def _has_separate(self, domain: int) -> bool:
        return not self.gathered.by_plots[domain] and self.ratio.n_lonely[domain] == 0

    def _lead(self, domain: int) -> str:
        return rows.STRATIFIED_LOGIT_T if self.gathered.several[domain] else rows.POSTERIOR

    def _within_block(
        self, domain: int, batch: PosteriorBatch, design: Floats, wilson: Floats | None
    ) -> Iterator[EstimateRow]:
        ticket, uneven = self.tickets[domain], bool(self.gathered.uneven[domain])
        posterior, icc = batch.limits(ticket), batch.icc(ticket)
        if not uneven:  # the posterior cannot weight plots
            yield self._row(domain, rows.POSTERIOR, posterior, icc=icc, is_headline=True)
        yield self._row(domain, rows.RATIO_LOGIT_T, design, is_headline=uneven)
        if wilson is not None and not uneven and np.isfinite(wilson[domain]).all():
            yield self._row(domain, rows.POOLED_ICC_WILSON, wilson[domain])

    def _row(
        self,
        domain: int,
        method: str,
        limits: Floats | None = None,
        ratio: RatioEstimates | None = None,
        *,
        icc: float | None = None,
        is_headline: bool = False,
        status: str = rows.OK,
    ) -> EstimateRow:
        ratio, scale = ratio or self.ratio, self.measure.scale
        figures: dict[str, Any] = {}
        if limits is not None:
            figures = {name: rounded(limit) for name, limit in zip(LIMIT_FIELDS, limits * scale, strict=True)}
            figures |= {
                "value": rounded(ratio.value[domain] * scale),
                "se": rounded(ratio.se[domain] * scale),
                "deff": rounded(ratio.deff[domain]),
                "icc": rounded(icc),
            }
        return EstimateRow(
            scope=self.scope,
            key=self.keys[domain],
            measure=self.measure.name,
            method=method,
            level=self.settings.level,
            n_plots=int(self.visited[domain]),
            n_trees=int(self.ratio.n_trees[domain]),
            n_alive=int(self.ratio.n_alive[domain]),
            n_flagged=int(self.gathered.n_flagged[domain]),
            is_headline=is_headline,
            status=status,
            reason=str(self.reasons[domain]) or " ".join(w[domain] for w in self.warnings if w[domain]),
            **figures,
        )

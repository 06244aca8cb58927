"""What is foreseen of a planting in this project: from past plantings, else from a stated expectation."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from monitoring.calc.replanting_dates import Window
from monitoring.estimators.carrying import LossRate
from monitoring.estimators.past_plantings import (
    THIS_PROJECT,
    Foreseen,
    PlantingCount,
    at_check,
    foresee,
    loss_rate,
)
from monitoring.estimators.planting_survival import ReplacementSurvival
from monitoring.estimators.rows import rounded
from monitoring.selectors.domain_facts import DAYS_PER_MONTH
from projects.models import Project, SurvivalPrior
from projects.selectors.foreseen_survival import best_prior

DEFAULT_SURVIVAL = ReplacementSurvival(7.0, 3.0)  # 70 % with the weight of ten trees; common practice
LEVEL = 0.95  # of the limits shown beside a survival


@dataclass(frozen=True)
class Evidence:
    """All counts of a project's plantings and what was stated of them; one answer for each stock is kept."""

    project_id: int
    check_days: float
    counts: Sequence[PlantingCount]
    rate: LossRate
    priors: Sequence[SurvivalPrior]
    known: dict[tuple, tuple[Foreseen, str]] = field(default_factory=dict)

    @classmethod
    def of(
        cls, project: Project, counts: Sequence[PlantingCount], priors: Sequence[SurvivalPrior]
    ) -> "Evidence":
        """Gather what was counted up to now."""
        check_days = project.check_age_months * DAYS_PER_MONTH
        return cls(project.pk, check_days, at_check(counts, check_days), loss_rate(counts), priors)

    def stated_types(self, species_id: int | None) -> set[str]:
        """Stock types of which an expectation of their own was stated."""
        return {
            prior.stock_type
            for prior in self.priors
            if prior.species_id in (None, species_id) and prior.project_id in (None, self.project_id)
        } - {""}

    def foreseen(
        self, species_id: int | None, stock_type: str, window: Window | None
    ) -> tuple[Foreseen, str]:
        """Survival of a planting of a stock in a window, with the code of its source."""
        key = (species_id, stock_type, window)
        if key not in self.known:
            self.known[key] = self._foreseen(species_id, stock_type, window)
        return self.known[key]

    def _foreseen(
        self, species_id: int | None, stock_type: str, window: Window | None
    ) -> tuple[Foreseen, str]:
        stated = best_prior(self.priors, self.project_id, species_id, stock_type)
        expected = DEFAULT_SURVIVAL if stated is None else as_beta(stated)
        span: tuple[date, date] | None = (window.opens_on, window.closes_on) if window else None
        found = foresee(
            self.counts, species=species_id, stock_type=stock_type, window=span, check_days=self.check_days,
            rate=self.rate, prior=expected,
        )  # fmt: skip
        if found.level == THIS_PROJECT and stated is not None and stated.stock_type == stock_type:
            found = Foreseen(expected)  # stated of this very stock, which was never planted here
        if found.level:
            return found, f"{'joined' if found.joined else 'observed'}_{found.level}"
        return found, "common practice" if stated is None else f"prior: {stated.source}"[:60]


def as_beta(prior: SurvivalPrior) -> ReplacementSurvival:
    """A stated expectation with its weight in trees."""
    return ReplacementSurvival(prior.mean * prior.weight_trees, (1 - prior.mean) * prior.weight_trees)


def told(found: Foreseen, source: str) -> dict[str, Any]:
    """A foreseen survival as a page shows it: with the limits a single planting falls between."""
    tail = (1 - LEVEL) / 2
    return {
        "value": rounded(found.survival.mean),
        "lower": rounded(found.survival.quantile(tail)),
        "upper": rounded(found.survival.quantile(1 - tail)),
        "source": source,
        "n_plantings": found.n_plantings,
        "n_plots": found.n_plots,
        "carried": found.carried,
    }

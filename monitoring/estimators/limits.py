"""The three pairs of limits every row carries: two-sided, for a decision, for a claim.

`SixLimits` arrays have shape `(n_domains, 6)` in the order of `LIMIT_FIELDS`.
"""

from collections.abc import Callable

import numpy as np

from monitoring.estimators import intervals
from monitoring.estimators.icc import PooledIcc
from monitoring.estimators.posterior import Posterior, posterior_quantiles
from monitoring.estimators.rows import EstimateSettings
from monitoring.estimators.strata import PlotTotals, RatioEstimates
from monitoring.estimators.table import Floats, Ints

LIMIT_FIELDS = ("lower", "upper", "lower_decision", "upper_decision", "lower_claim", "upper_claim")


def two_sided_levels(settings: EstimateSettings) -> tuple[float, float, float]:
    """The two-sided levels whose ends are the three pairs of limits.

    >>> [round(level, 2) for level in two_sided_levels(EstimateSettings())]
    [0.95, 0.8, 0.9]
    """
    return settings.level, 2 * settings.decision_level - 1, 2 * settings.claim_level - 1


def six_limits(at_level: Callable[[float], intervals.Limits], settings: EstimateSettings) -> Floats:
    """Call an interval function at the three levels and lay the ends side by side."""
    ends = [end for level in two_sided_levels(settings) for end in at_level(level)]
    return np.stack(np.broadcast_arrays(*ends), axis=-1)


def logit_t_limits(ratio: RatioEstimates, df: Floats, settings: EstimateSettings) -> Floats:
    """Logit-t limits with the edge rule for every domain."""
    n_effective = intervals.edge_trees(ratio.trees_effective, ratio.mean_plot, settings.edge_icc)
    with np.errstate(invalid="ignore"):
        return six_limits(
            lambda level: intervals.logit_t_with_edge(ratio.value, ratio.se, df, n_effective, level), settings
        )


def satterthwaite_limits(ratio: RatioEstimates, settings: EstimateSettings) -> Floats:
    """Logit-t limits with Satterthwaite degrees of freedom, plots minus blocks where no plot differs."""
    df = np.where(np.isnan(ratio.df_satterthwaite), ratio.df_design, ratio.df_satterthwaite)
    return logit_t_limits(ratio, df, settings)


def wilson_limits(ratio: RatioEstimates, pooled: PooledIcc, settings: EstimateSettings) -> Floats:
    """Pooled-correlation Wilson limits for every block."""
    with np.errstate(invalid="ignore", divide="ignore"):
        return six_limits(
            lambda level: intervals.wilson_pooled_icc(
                ratio.value, ratio.n_trees, pooled.deff, pooled.df, level
            ),
            settings,
        )


class PosteriorBatch:
    """Collects the blocks that need a posterior, works each distinct set of plots once, hands out limits."""

    def __init__(self, settings: EstimateSettings) -> None:
        self._settings = settings
        self._index: dict[bytes, int] = {}
        self._plots: list[tuple[Ints, Ints]] = []
        self._limits = np.empty((0, len(LIMIT_FIELDS)))
        self._icc = np.empty(0)

    def request(self, totals: PlotTotals, wanted: Ints, n_domains: int) -> Ints:
        """Register the domains in `wanted`; returns `(n_domains,)` tickets, −1 for the others."""
        tickets = np.full(n_domains, -1)
        starts = np.searchsorted(totals.domain, np.arange(n_domains + 1))
        for domain in wanted:
            part = slice(starts[domain], starts[domain + 1])
            tickets[domain] = self._ticket(totals.alive[part], totals.trees[part])
        return tickets

    def _ticket(self, alive: Ints, trees: Ints) -> int:
        key = alive.tobytes() + b"/" + trees.tobytes()
        if key not in self._index:
            self._index[key] = len(self._plots)
            self._plots.append((alive, trees))
        return self._index[key]

    def solve(self) -> None:
        """Compute every registered posterior in one sweep."""
        if not self._plots:
            return
        sizes = [alive.size for alive, _ in self._plots]
        domain = np.repeat(np.arange(len(sizes)), sizes)
        alive = np.concatenate([plot[0] for plot in self._plots])
        trees = np.concatenate([plot[1] for plot in self._plots])
        tails = [(1 + sign * level) / 2 for level in two_sided_levels(self._settings) for sign in (-1, 1)]
        posterior = posterior_quantiles(domain, alive, trees, len(sizes), tails)
        self._icc = posterior.icc
        self._limits = honest_limits(posterior, domain, alive, trees)

    def limits(self, ticket: int) -> Floats:
        """The six limits of a ticket."""
        return self._limits[ticket]

    def icc(self, ticket: int) -> float:
        """Posterior mean of the intra-plot correlation of a ticket."""
        return float(self._icc[ticket])


def honest_limits(posterior: Posterior, domain: Ints, alive: Ints, trees: Ints) -> Floats:
    """Posterior limits set to 1 (0) when all (none) live, and widened to hold the ratio of totals."""
    n_domains = len(posterior.quantiles)
    living = np.bincount(domain, alive, n_domains)
    total = np.bincount(domain, trees, n_domains)
    limits, share = posterior.quantiles.copy(), (living / total)[:, None]
    limits[:, 0::2] = np.where(living[:, None] == 0, 0.0, np.minimum(limits[:, 0::2], share))
    limits[:, 1::2] = np.where((living == total)[:, None], 1.0, np.maximum(limits[:, 1::2], share))
    return limits

"""Change of survival between two rounds, with the plots both rounds counted taken as pairs.

Everything is vectorised over *domains* (a project, each block, cohort, species …), as in `strata`.

>>> import numpy as np
>>> alive = np.array([[18, 15], [20, 19], [16, 15], [12, 8]], float)
>>> seen, zeros = np.ones((4, 2), bool), np.zeros(4, int)
>>> two = TwoRounds(zeros, zeros, alive, np.full((4, 2), 20.0), np.ones((4, 2)), seen, alive[:, 0], alive[:, 1])
>>> sample = TwoSamples(np.array([[4, 4]]), np.zeros((1, 2)), np.array([4]))
>>> found = changes(two, sample, 1, whole=True)
>>> [round(float(x[0]), 4) for x in (found.difference, found.se, found.se_independent, found.interval.value)]
[-0.1125, 0.0375, 0.1427, 0.8636]
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitoring.estimators.strata import PlotTotals, RatioEstimates, Sample, ratio_estimates
from monitoring.estimators.sums import distinct, summed
from monitoring.estimators.table import Floats, Ints

DAYS_PER_YEAR = 365.25


@dataclass(frozen=True, slots=True)
class TwoRounds:
    """Plot × domain totals of two rounds, one row per plot and domain of either, earlier round first.

    Attributes
    ----------
    domain, block : (n_rows,) codes.
    alive, trees : (n_rows, 2) living trees, and the planted trees they are of; 0 where the plot was not seen.
    weight : (n_rows, 2) expansion weight of the plot in each round.
    seen : (n_rows, 2) the plot was visited in that round.
    at_risk, lived : (n_rows,) trees living in the earlier round that were left to live, and how many of them
        live in the later; read only where the plot was seen twice.
    """

    domain: Ints
    block: Ints
    alive: Floats
    trees: Floats
    weight: Floats
    seen: NDArray[np.bool_]
    at_risk: Floats
    lived: Floats

    @property
    def twice(self) -> NDArray[np.bool_]:
        """(n_rows,) whether the plot was visited in both rounds."""
        return self.seen[:, 0] & self.seen[:, 1]


@dataclass(frozen=True, slots=True)
class TwoSamples:
    """How the blocks were sampled: plots `visited` and sampled `fraction` `(n_blocks, 2)`, `common` `(n_blocks,)`."""

    visited: Ints
    fraction: Floats
    common: Ints


@dataclass(frozen=True, slots=True)
class Changes:
    """Change of each domain; every array `(n_domains,)` or `(n_domains, 2)` with the earlier round first.

    Attributes
    ----------
    share : (n_domains, 2) survival of each round.
    share_se : (n_domains, 2) its standard errors.
    difference, se, df : later minus earlier, its standard error and Satterthwaite degrees of freedom.
    covariance, se_independent : of the two shares; the error had the rounds nothing in common.
    log_ratio, se_log_ratio : log of later over earlier.
    interval : living later of those living earlier, on the plots seen twice.
    n_held : (n_domains, 2) plots of each round that hold the domain.
    n_common : plots seen twice that hold it.
    trees : (n_domains, 2) trees, unweighted.
    effective, mean_plot : (n_domains, 2) for the edge rule, as in `RatioEstimates`.
    is_paired : every plot of the domain's blocks was seen in both rounds.
    only_lost : so they were, with the same trees and weights, and none of them gained any.
    """

    share: Floats
    share_se: Floats
    difference: Floats
    se: Floats
    df: Floats
    covariance: Floats
    se_independent: Floats
    log_ratio: Floats
    se_log_ratio: Floats
    interval: RatioEstimates
    n_held: Ints
    n_common: Ints
    trees: Floats
    effective: Floats
    mean_plot: Floats
    is_paired: NDArray[np.bool_]
    only_lost: NDArray[np.bool_]


def changes(two: TwoRounds, sample: TwoSamples, n_domains: int, *, whole: bool) -> Changes:
    """Paired change of survival of each domain.

    Parameters
    ----------
    two, sample : totals of both rounds and how their blocks were sampled.
    whole : a domain is everything in its blocks, as in `ratio_estimates`.

    Notes
    -----
    With u = w(y − p m) / Σ w m of each round, a block whose plots were all seen twice adds n/(n−1) Σ(d − d̄)² of
    d = u₂ − u₁. A block whose plots partly differ adds v₁ + v₂ − 2 c s₁₂ with s₁₂ the covariance of u₁ and u₂ over
    its c common plots, never more than c/√(n₁n₂) √(v₁v₂); one without common plots adds v₁ + v₂. With a
    finite-population correction c becomes c − n₁n₂/N. A block with one plot in a round adds its squared residual.
    Degrees of freedom of a block: n − 1 where paired, Welch's where nothing is common, else the smaller n − 1.

    References
    ----------
    Kish (1965), Survey Sampling, sec. 12.4; Cochran (1977), Sampling Techniques, 3rd ed., ch. 12;
    same plots: agrees with R survey 4.1-1 `svycontrast` of two ratios.
    """
    wm = np.stack([summed(two.domain, (two.weight * two.trees)[:, t], n_domains) for t in (0, 1)], axis=1)
    wy = np.stack([summed(two.domain, (two.weight * two.alive)[:, t], n_domains) for t in (0, 1)], axis=1)
    share = np.divide(wy, wm, out=np.full((n_domains, 2), np.nan), where=wm > 0)
    strata = _Strata.of(two, sample, np.nan_to_num(share), np.where(wm > 0, wm, 1.0))
    variance, df = strata.variance_and_df(n_domains, whole)
    v = np.stack([summed(strata.domain, strata.variance[:, t], n_domains) for t in (0, 1)], axis=1)
    covariance = summed(strata.domain, strata.covariance, n_domains)
    effective, mean_plot = _edge_numbers(two, wm, n_domains)
    held = two.seen & (two.trees > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        log_ratio = np.log(share[:, 1] / share[:, 0])
        relative = (v / share**2).sum(axis=1) - 2 * covariance / share.prod(axis=1)
    known = np.isfinite(share).all(axis=1)
    is_paired = np.bincount(strata.domain, ~strata.is_paired, n_domains) == 0
    other = (two.alive[:, 1] > two.alive[:, 0]) | (two.trees[:, 0] != two.trees[:, 1])
    other |= ~np.isclose(two.weight[:, 0], two.weight[:, 1], rtol=1e-9)
    return Changes(
        share=share,
        share_se=np.where(wm > 0, np.sqrt(v), np.nan),
        difference=share[:, 1] - share[:, 0],
        se=np.where(known, np.sqrt(variance), np.nan),
        df=df,
        covariance=covariance,
        se_independent=np.where(known, np.sqrt(v.sum(axis=1)), np.nan),
        log_ratio=log_ratio,
        se_log_ratio=np.sqrt(np.maximum(relative, 0)),
        interval=interval_survival(two, sample, n_domains, whole=whole),
        n_held=np.stack([np.bincount(two.domain, held[:, t], n_domains) for t in (0, 1)], axis=1).astype(int),
        n_common=np.bincount(two.domain, held[:, 0] & held[:, 1], n_domains).astype(int),
        trees=np.stack([summed(two.domain, two.trees[:, t], n_domains) for t in (0, 1)], axis=1),
        effective=effective,
        mean_plot=mean_plot,
        is_paired=is_paired,
        only_lost=is_paired & (np.bincount(two.domain, other, n_domains) == 0),
    )


def interval_survival(two: TwoRounds, sample: TwoSamples, n_domains: int, *, whole: bool) -> RatioEstimates:
    """Living later over living earlier, on the plots seen twice; not clipped where a recount found more."""
    twice = two.twice
    visited = np.maximum(sample.visited[:, 1], 1)
    fraction = np.where(sample.fraction[:, 1] >= 1, 1.0, sample.fraction[:, 1] * sample.common / visited)
    lived: Any = two.lived[twice]  # whole numbers where every tree was looked at
    at_risk: Any = two.at_risk[twice]
    totals = PlotTotals(two.domain[twice], two.block[twice], lived, at_risk, two.weight[twice, 0])
    return ratio_estimates(totals, Sample(sample.common, fraction), n_domains, whole=whole)


def yearly(survival: ArrayLike, years: ArrayLike) -> Floats:
    """Survival of one year that gives `survival` over `years`; the yearly death rate is 1 minus it.

    References
    ----------
    m = 1 − (N₁/N₀)^(1/t): Sheil, Burslem & Alder (1995), J. Ecology 83:331.

    >>> round(float(yearly(61 / 206, 23 / 12)), 3)
    0.53
    """
    share, time = np.asarray(survival, float), np.asarray(years, float)
    safe = np.where(time > 0, time, np.nan)
    return np.maximum(share, 0) ** (1 / safe)


@dataclass(frozen=True, slots=True)
class _Strata:
    """One entry per domain × block that the domain touches in either round."""

    domain: Ints
    visited: Ints  # (n_strata, 2)
    held: Ints  # (n_strata, 2)
    common: Ints
    variance: Floats  # (n_strata, 2)
    covariance: Floats
    paired_variance: Floats
    is_paired: NDArray[np.bool_]

    @classmethod
    def of(cls, two: TwoRounds, sample: TwoSamples, share: Floats, wm: Floats) -> "_Strata":
        n_blocks = sample.common.size
        pairs, stratum = distinct(two.domain * n_blocks + two.block)
        block = pairs % n_blocks
        u = two.weight * (two.alive - share[two.domain] * two.trees) / wm[two.domain]
        visited, common = sample.visited[block], sample.common[block]
        correction = np.maximum(1 - sample.fraction[block], 0)
        own = np.stack(
            [_spread(stratum, u[:, t], u[:, t], two.seen[:, t], visited[:, t]) for t in (0, 1)], axis=1
        )
        totals = np.stack([summed(stratum, u[:, t] * two.seen[:, t], pairs.size) for t in (0, 1)], axis=1)
        variance = correction * np.where(visited > 1, visited * own, totals**2)
        twice, d = two.twice, u[:, 1] - u[:, 0]
        paired: NDArray[np.bool_] = (common == visited[:, 0]) & (common == visited[:, 1])
        paired_variance = correction[:, 1] * np.where(
            common > 1, common * _spread(stratum, d, d, twice, common), summed(stratum, d, pairs.size) ** 2
        )
        covariance = _in_common(common, visited, sample.fraction[block, 1]) * _spread(
            stratum, u[:, 0], u[:, 1], twice, common
        )
        most = common / np.sqrt(visited.prod(axis=1)) * np.sqrt(variance.prod(axis=1))
        held = [np.bincount(stratum, two.seen[:, t] & (two.trees[:, t] > 0), pairs.size) for t in (0, 1)]
        return cls(
            domain=pairs // n_blocks,
            visited=visited,
            held=np.stack(held, axis=1).astype(np.int64),
            common=common,
            variance=variance,
            covariance=np.clip(covariance, -most, most),
            paired_variance=paired_variance,
            is_paired=paired,
        )

    def variance_and_df(self, n_domains: int, whole: bool) -> tuple[Floats, Floats]:
        """Variance of the difference of each domain and its degrees of freedom."""
        mixed = np.maximum(self.variance.sum(axis=1) - 2 * self.covariance, 0)
        parts = np.where(self.is_paired, self.paired_variance, mixed)
        df = np.maximum((self.visited if whole else self.held) - 1, 1)
        welch = (self.variance**2 / df).sum(axis=1)
        spread = np.where(self.common == 0, welch, parts**2 / df.min(axis=1))
        total, spread = summed(self.domain, parts, n_domains), summed(self.domain, spread, n_domains)
        design = summed(self.domain, df.min(axis=1), n_domains)
        return total, np.divide(total**2, spread, out=design, where=spread > 0)


def _spread(stratum: Ints, a: Floats, b: Floats, inside: NDArray[np.bool_], n: Ints) -> Floats:
    """Covariance of a and b over the `n` plots of each stratum, those without a row being zeros."""
    size = n.size
    safe = np.maximum(n, 1)
    mean_a, mean_b = summed(stratum, a * inside, size) / safe, summed(stratum, b * inside, size) / safe
    about = (a - mean_a[stratum]) * (b - mean_b[stratum]) * inside
    absent = n - np.bincount(stratum, inside, size)
    total = summed(stratum, about, size) + absent * mean_a * mean_b
    return total / np.maximum(n - 1, 1) * (n > 1)


def _in_common(common: Ints, visited: Ints, fraction: Floats) -> Floats:
    """Common plots, less what a finite population takes off: c − n₁n₂/N."""
    return np.maximum(common - visited[:, 0] * fraction, 0)


def _edge_numbers(two: TwoRounds, wm: Floats, n_domains: int) -> tuple[Floats, Floats]:
    """Effective trees and tree-weighted mean plot of each round, as `strata` takes them."""
    w2m = np.stack([summed(two.domain, (two.weight**2 * two.trees)[:, t], n_domains) for t in (0, 1)], axis=1)
    w2m2 = np.stack(
        [summed(two.domain, (two.weight**2 * two.trees**2)[:, t], n_domains) for t in (0, 1)], axis=1
    )
    safe = np.where(w2m > 0, w2m, 1)
    return wm**2 / safe, w2m2 / safe

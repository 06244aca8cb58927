"""Odds of living against peers, combined over blocks: Mantel–Haenszel, on counts deflated for clustering."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from monitoring.estimators.table import Floats


@dataclass(frozen=True, slots=True)
class CommonOdds:
    """One odds ratio for all blocks.

    Attributes
    ----------
    ratio, lower, upper : common odds ratio with two-sided limits; NaN where no block tells.
    statistic, p_value : chi-squared with 1 degree of freedom against a ratio of 1, without continuity correction.
    """

    ratio: float
    lower: float
    upper: float
    statistic: float
    p_value: float


def deflated(alive: ArrayLike, trees: ArrayLike, deff: ArrayLike) -> tuple[Floats, Floats]:
    """Living and counted trees as effective independent trees; a design effect below 1 is taken as 1.

    References
    ----------
    Rao & Scott (1992), Biometrics 48:577.
    """
    by = np.maximum(np.nan_to_num(np.asarray(deff, float), nan=1.0), 1.0)
    return np.asarray(alive, float) / by, np.asarray(trees, float) / by


def common_odds(
    alive: ArrayLike, trees: ArrayLike, peer_alive: ArrayLike, peer_trees: ArrayLike, level: float = 0.95
) -> CommonOdds:
    """Odds of living over those of the peers in the same blocks.

    Parameters
    ----------
    alive, trees, peer_alive, peer_trees : (n_blocks,) counts, deflated by `deflated` where trees are clustered.

    References
    ----------
    Mantel & Haenszel (1959), J. Nat. Cancer Inst. 22:719; limits by Robins, Breslow & Greenland (1986),
    Biometrics 42:311.

    Examples
    --------
    >>> found = common_odds([40, 28, 18], [50, 34, 20], [35, 20, 25], [50, 34, 34])
    >>> round(found.ratio, 3), round(found.p_value, 4)
    (2.385, 0.0078)
    """
    a, m, c, k = (np.atleast_1d(np.asarray(x, float)) for x in (alive, trees, peer_alive, peer_trees))
    told = (m > 0) & (k > 0) & (m + k > 1)
    a, m, c, k = a[told], m[told], c[told], k[told]
    n, b, d = m + k, m - a, k - c
    r, s = a * d / n, b * c / n
    chance = (m * k * (a + c) * (b + d) / (n**2 * (n - 1))).sum()
    statistic = float((a - m * (a + c) / n).sum() ** 2 / chance) if chance > 0 else np.nan
    if not (r.sum() > 0 and s.sum() > 0):
        return CommonOdds(np.nan, np.nan, np.nan, statistic, float(special.chdtrc(1, statistic)))
    ratio = float(r.sum() / s.sum())
    half = float(special.ndtri((1 + level) / 2)) * np.sqrt(_log_variance(r, s, (a + d) / n, (b + c) / n))
    return CommonOdds(
        ratio, float(ratio * np.exp(-half)), float(ratio * np.exp(half)), statistic,
        float(special.chdtrc(1, statistic)),
    )  # fmt: skip


def _log_variance(r: Floats, s: Floats, alike: Floats, unlike: Floats) -> float:
    """Variance of the logarithm of the common odds ratio."""
    own, other = r.sum(), s.sum()
    return float(
        (alike * r).sum() / (2 * own**2)
        + (alike * s + unlike * r).sum() / (2 * own * other)
        + (unlike * s).sum() / (2 * other**2)
    )

"""Limits for a share: for independent trees, and for trees counted in plots.

All functions take numbers or arrays (they broadcast) and return `(lower, upper)` in [0, 1]. `level` is the
two-sided confidence; a one-sided limit at level L is a limit at two-sided level 2L − 1.
"""

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from monitoring.estimators.table import Floats

Limits = tuple[Floats, Floats]


def wilson(alive: ArrayLike, total: ArrayLike, level: ArrayLike = 0.95) -> Limits:
    """Score limits for independent trees; counts may be fractional (effective numbers).

    References
    ----------
    Newcombe (1998), Statistics in Medicine 17:857, method 3.

    >>> [round(float(x), 4) for x in wilson(81, 263)]
    [0.2553, 0.3662]
    """
    x, n = np.asarray(alive, float), np.asarray(total, float)
    z = special.ndtri((1 + np.asarray(level, float)) / 2)
    p = x / n
    centre, half = p + z**2 / (2 * n), z * np.sqrt(p * (1 - p) / n + z**2 / (4 * n**2))
    scale = 1 + z**2 / n
    lower, upper = (centre - half) / scale, (centre + half) / scale
    return np.where(x <= 0, 0.0, lower), np.where(x >= n, 1.0, upper)


def clopper_pearson(alive: ArrayLike, total: ArrayLike, level: ArrayLike = 0.95) -> Limits:
    """Exact limits for independent trees; counts may be fractional (effective numbers).

    >>> [round(float(x), 4) for x in clopper_pearson(0, 20)]
    [0.0, 0.1684]
    """
    x, n = np.broadcast_arrays(np.asarray(alive, float), np.asarray(total, float))
    tail = (1 - np.asarray(level, float)) / 2
    dead = n - x
    lower = special.betaincinv(np.where(x > 0, x, 1), dead + 1, tail)
    upper = special.betaincinv(x + 1, np.where(dead > 0, dead, 1), 1 - tail)
    return np.where(x > 0, lower, 0.0), np.where(dead > 0, upper, 1.0)


def jeffreys(alive: ArrayLike, total: ArrayLike, level: ArrayLike = 0.95) -> Limits:
    """Jeffreys limits for independent trees, set to 0 (1) when none (all) live.

    References
    ----------
    Brown, Cai & DasGupta (2001), Statistical Science 16:101, for the rule at the edges.
    """
    x, n = np.asarray(alive, float), np.asarray(total, float)
    tail = (1 - np.asarray(level, float)) / 2
    lower = special.betaincinv(x + 0.5, n - x + 0.5, tail)
    upper = special.betaincinv(x + 0.5, n - x + 0.5, 1 - tail)
    return np.where(x <= 0, 0.0, lower), np.where(x >= n, 1.0, upper)


def student_t(df: ArrayLike, level: ArrayLike) -> Floats:
    """Two-sided critical value of Student's t; NaN without degrees of freedom."""
    df = np.asarray(df, float)
    return np.where(
        df > 0, special.stdtrit(np.where(df > 0, df, 1), (1 + np.asarray(level, float)) / 2), np.nan
    )


def logit_t(value: ArrayLike, se: ArrayLike, df: ArrayLike, level: ArrayLike = 0.95) -> Limits:
    """Student-t limits on the logit scale for a share with a design-based standard error.

    NaN at 0 % and 100 %, where the caller applies `edge_limits`.

    References
    ----------
    Dean & Pagano (2015), J. Survey Stat. Methodol. 3:484 (from memory); agrees with R survey 4.1-1
    `svyciprop(method="xlogit")`.

    >>> [round(float(x), 4) for x in logit_t(0.29612, 0.11518, 9)]
    [0.1076, 0.5949]
    """
    p, se = np.asarray(value, float), np.asarray(se, float)
    inside = (p > 0) & (p < 1)
    safe = np.where(inside, p, 0.5)
    half = student_t(df, level) * se / (safe * (1 - safe))
    centre = special.logit(safe)
    lower, upper = special.expit(centre - half), special.expit(centre + half)
    return np.where(inside, lower, np.nan), np.where(inside, upper, np.nan)


def edge_trees(trees: ArrayLike, mean_plot: ArrayLike, icc: float = 0.1) -> Floats:
    """Effective number of independent trees at an assumed intra-plot correlation.

    Parameters
    ----------
    trees : trees counted.
    mean_plot : tree-weighted mean plot size, sum of m² over sum of m. [trees]
    icc : the assumption (0.1 by default; print it beside the limits).

    >>> round(float(edge_trees(100, 20.1)), 2)
    34.36
    """
    return np.asarray(trees, float) / (1 + np.maximum(np.asarray(mean_plot, float) - 1, 0) * icc)


def edge_limits(value: ArrayLike, n_effective: ArrayLike, level: ArrayLike = 0.95) -> Limits:
    """Limits where the plots show no spread at all: Clopper–Pearson on the effective number of trees.

    >>> round(float(edge_limits(1.0, edge_trees(100, 20.1))[0]), 4)
    0.8982
    """
    n = np.maximum(np.asarray(n_effective, float), 1e-9)
    return clopper_pearson(np.asarray(value, float) * n, n, level)


def logit_t_with_edge(
    value: ArrayLike, se: ArrayLike, df: ArrayLike, n_effective: ArrayLike, level: ArrayLike = 0.95
) -> Limits:
    """`logit_t`, and `edge_limits` wherever the standard error is zero.

    A zero standard error away from 0 % and 100 % (every plot with the same share) would claim certainty from
    a few plots, so the edge rule covers it too.
    """
    p, se, df, n, wanted = np.broadcast_arrays(
        *(np.asarray(a, float) for a in (value, se, df, n_effective, level))
    )
    lower, upper = (np.array(limit) for limit in logit_t(p, se, df, wanted))
    flat = (se <= 1e-12) | (p <= 0) | (p >= 1)
    lower[flat], upper[flat] = edge_limits(p[flat], n[flat], wanted[flat])
    return lower, upper


def korn_graubard(
    value: ArrayLike,
    se: ArrayLike,
    trees: ArrayLike,
    df: ArrayLike,
    level: ArrayLike = 0.95,
    *,
    cap: bool = True,
) -> Limits:
    """Clopper–Pearson on a degrees-of-freedom-adjusted effective number of trees.

    Parameters
    ----------
    cap : keep the effective number at or below `trees` (R's `svyciprop(method="beta")` does not).

    References
    ----------
    Korn & Graubard (1998), Survey Methodology 24:193.
    """
    p, trees = np.asarray(value, float), np.asarray(trees, float)
    ratio = student_t(trees - 1, level) / student_t(df, level)
    n = p * (1 - p) / np.asarray(se, float) ** 2 * ratio**2
    n = np.minimum(n, trees) if cap else n
    return clopper_pearson(p * n, n, level)


def wilson_pooled_icc(
    value: ArrayLike, trees: ArrayLike, deff: ArrayLike, df: float, level: ArrayLike = 0.95
) -> Limits:
    """Wilson limits on trees deflated by a design effect whose correlation is pooled over blocks.

    Narrower than the posterior on average, but blocks with more correlation than the rest fall short of
    their level, so it is offered and not the headline.
    """
    n = np.asarray(trees, float) / np.asarray(deff, float)
    n = n * (special.ndtri((1 + np.asarray(level, float)) / 2) / student_t(df, level)) ** 2
    return wilson(np.asarray(value, float) * n, n, level)

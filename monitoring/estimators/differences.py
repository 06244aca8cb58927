"""Difference of two shares with limits, and what chance alone makes of many of them."""

import numpy as np
from numpy.typing import ArrayLike

from monitoring.estimators.intervals import Limits, wilson
from monitoring.estimators.table import Floats


def mover(
    first: ArrayLike, first_limits: Limits, second: ArrayLike, second_limits: Limits, pairing: ArrayLike = 1.0
) -> Limits:
    """Limits of `first` − `second` recovered from the limits of each, for shares.

    Parameters
    ----------
    first, second : (n,) shares.
    first_limits, second_limits : their lower and upper limits, each (n,), as lopsided as they are.
    pairing : (n,) variance of the difference over the sum of both variances; 1 where they rest on different
        plots, below 1 where plots that hold both let what they have in common cancel.

    Notes
    -----
    The squared reach of the limits is multiplied by `pairing`. A correlation put into the reach itself, as is
    printed for normal estimates, makes lopsided limits of very unlike shares cancel each other, and names a
    difference twice as often as it should.

    References
    ----------
    Zou & Donner (2008), Statistics in Medicine 27:1693, for different plots.

    Examples
    --------
    >>> lower, upper = mover(0.9, (0.8, 0.95), 0.7, (0.5, 0.85))
    >>> round(float(lower), 3), round(float(upper), 3)
    (0.02, 0.406)
    """
    p, q = np.asarray(first, float), np.asarray(second, float)
    share = np.sqrt(np.asarray(pairing, float))
    lower = share * np.hypot(p - first_limits[0], second_limits[1] - q)
    upper = share * np.hypot(first_limits[1] - p, q - second_limits[0])
    return np.maximum(p - q - lower, -1.0), np.minimum(p - q + upper, 1.0)


def newcombe(
    alive: ArrayLike, total: ArrayLike, peer_alive: ArrayLike, peer_total: ArrayLike, level: float = 0.95
) -> Limits:
    """Limits of a difference of two shares of independent trees; counts may be fractional (effective numbers).

    References
    ----------
    Newcombe (1998), Statistics in Medicine 17:873, method 10.

    >>> [round(float(x), 4) for x in newcombe(56, 70, 48, 80)]
    [0.0524, 0.3339]
    """
    own, peer = wilson(alive, total, level), wilson(peer_alive, peer_total, level)
    return mover(np.divide(alive, total), own, np.divide(peer_alive, peer_total), peer)


def false_discovery(p_values: ArrayLike) -> Floats:
    """Adjust p-values so that of all found at or below q, at most a share q is expected to be chance.

    Parameters
    ----------
    p_values : (n,); NaN stays NaN and does not count as a comparison.

    References
    ----------
    Benjamini & Hochberg (1995), J. R. Statist. Soc. B 57:289.

    >>> false_discovery([0.01, 0.04, 0.03, 0.5]).round(3).tolist()
    [0.04, 0.053, 0.053, 0.5]
    """
    p = np.asarray(p_values, float)
    known = np.flatnonzero(~np.isnan(p))
    descending = known[np.argsort(-p[known], kind="stable")]
    scaled = p[descending] * known.size / np.arange(known.size, 0, -1)
    adjusted = np.full(p.shape, np.nan)
    adjusted[descending] = np.minimum(np.minimum.accumulate(scaled), 1.0)
    return adjusted

"""Difference of two shares with limits, and what chance alone makes of many of them."""

import numpy as np
from numpy.typing import ArrayLike

from monitoring.estimators.intervals import Limits, wilson
from monitoring.estimators.table import Floats


def mover(
    first: ArrayLike,
    first_limits: Limits,
    second: ArrayLike,
    second_limits: Limits,
    correlation: ArrayLike = 0.0,
) -> Limits:
    """Limits of `first` − `second` recovered from the limits of each, for shares.

    Parameters
    ----------
    first, second : (n,) shares.
    first_limits, second_limits : their lower and upper limits, each (n,), as lopsided as they are.
    correlation : (n,) of the two estimates; 0 where they rest on different plots.

    References
    ----------
    Zou & Donner (2008), Statistics in Medicine 27:1693; with a correlation, Zou (2008), Amer. J. Epidemiol.
    168:212 (from memory).

    Examples
    --------
    >>> lower, upper = mover(0.9, (0.8, 0.95), 0.7, (0.5, 0.85))
    >>> round(float(lower), 3), round(float(upper), 3)
    (0.02, 0.406)
    """
    p, q, r = (np.asarray(values, float) for values in (first, second, correlation))
    lower, upper = (
        _reach(p - first_limits[0], second_limits[1] - q, r),
        _reach(first_limits[1] - p, q - second_limits[0], r),
    )
    return np.maximum(p - q - lower, -1.0), np.minimum(p - q + upper, 1.0)


def _reach(own: Floats, other: Floats, correlation: Floats) -> Floats:
    return np.sqrt(np.maximum(own**2 + other**2 - 2 * correlation * own * other, 0))


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

"""Samples of a fixed number with given chances: spread out on the ground, or from a list.

Two units at a time fight over their chances until each has 0 or 1. In the local pivotal method the two are
neighbours, so that one who is in keeps its neighbours out, and the sample spreads over the ground.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitoring.estimators.draw_numbers import DrawNumbers
from monitoring.estimators.table import Floats, Ints

NOTHING = 1e-9  # a chance this near to 0 or 1 is decided


def local_pivotal(chances: ArrayLike, places: ArrayLike, numbers: DrawNumbers) -> Ints:
    """Draw a spatially balanced sample.

    Parameters
    ----------
    chances : (n_units,) inclusion probabilities in [0, 1] that add up to a whole number.
    places : (n_units, 2) coordinates. [m]
    numbers : where the random numbers come from.

    Returns
    -------
    (n_drawn,) array of int
        Indices of the units drawn, rising.

    Notes
    -----
    One undecided unit at random and its nearest undecided neighbour decide between them, keeping the sum of their
    chances; each unit is drawn with exactly the chance given (the method's second, faster form, LPM 2).

    References
    ----------
    Grafström, Lundström & Schelin (2012), Biometrics 68:514.

    Examples
    --------
    >>> from monitoring.estimators.draw_numbers import DUELS
    >>> local_pivotal([0.5] * 4, [[0, 0], [0, 1], [9, 0], [9, 1]], DrawNumbers(3, DUELS)).size
    2
    """
    p = _checked(chances)
    x, y = (np.array(column, float) for column in np.asarray(places, float).reshape(-1, 2).T)
    left = np.flatnonzero((p > NOTHING) & (p < 1 - NOTHING))
    x, y = x[left], y[left]
    while left.size > 1:
        luck = numbers.uniform(2)
        one = int(luck[0] * left.size)
        apart = (x - x[one]) ** 2 + (y - y[one]) ** 2
        apart[one] = np.inf
        other = int(np.argmin(apart))
        _duel(p, int(left[one]), int(left[other]), float(luck[1]))
        for place in sorted((one, other), reverse=True):
            if not NOTHING < p[left[place]] < 1 - NOTHING:
                last = left.size - 1
                for column in (left, x, y):
                    column[place] = column[last]
                left, x, y = left[:last], x[:last], y[:last]
    return _drawn(p)


def pivotal(chances: ArrayLike, numbers: DrawNumbers) -> Ints:
    """Draw a sample of a list in random order, each unit with exactly its chance.

    Parameters and result are those of `local_pivotal`, without places.

    References
    ----------
    Deville & Tillé (1998), Biometrika 85:89 (from memory).
    """
    p = _checked(chances)
    order = numbers.shuffled(p.size)
    order = order[(p[order] > NOTHING) & (p[order] < 1 - NOTHING)]
    luck = numbers.uniform(max(order.size - 1, 0))
    fighter = int(order[0]) if order.size else 0
    for challenger, chance in zip(order[1:], luck, strict=True):
        _duel(p, fighter, int(challenger), float(chance))
        fighter = int(challenger) if NOTHING < p[challenger] < 1 - NOTHING else fighter
    return _drawn(p)


def voronoi_balance(drawn: Ints, chances: ArrayLike, places: ArrayLike) -> float:
    """How unevenly a sample is spread: mean square of (chances nearest to a drawn unit − 1); 0 is perfect.

    References
    ----------
    Stevens & Olsen (2004), J. American Statistical Association 99:262, with equal shares for ties left out.
    """
    p, xy = np.asarray(chances, float), np.asarray(places, float)
    apart = ((xy[:, None, :] - xy[None, drawn, :]) ** 2).sum(axis=2)
    held = np.bincount(apart.argmin(axis=1), p, drawn.size)
    return float(((held - 1) ** 2).mean())


def _checked(chances: ArrayLike) -> Floats:
    p = np.array(chances, float)
    if not ((p >= 0) & (p <= 1)).all() or abs(p.sum() - round(p.sum())) > 1e-6:
        raise ValueError("chances must lie in 0..1 and add up to a whole number.")
    return p


def _duel(p: Floats, one: int, other: int, luck: float) -> None:
    """Move the chances of two units to a pair with one decided, each keeping its mean."""
    a, b = p[one], p[other]
    total = a + b
    if total < 1:
        p[one], p[other] = (0.0, total) if luck * total < b else (total, 0.0)
    else:
        p[one], p[other] = (1.0, total - 1) if luck * (2 - total) < 1 - b else (total - 1, 1.0)


def _drawn(p: Floats) -> Ints:
    taken: NDArray[np.bool_] = p > 0.5
    return np.flatnonzero(taken)

"""Survival from deaths known only to lie between two visits.

A tree seen alive at age l and dead at age r died in (l, r]: after the first visit, not after the second. One never
seen dead has r = ∞. Other programs may treat both ends as belonging to the interval; fed with whole round numbers
they then place deaths one round early (S(1) = 1 where this gives .787 in one of our checks).

>>> found = turnbull([0, 0, 1, 2, 1], [1, 2, 2, np.inf, np.inf])
>>> found.left.tolist(), found.right.tolist(), found.mass.round(4).tolist()
([0.0, 1.0, 2.0], [1.0, 2.0, inf], [0.2764, 0.4472, 0.2764])
>>> survival_at(found, [1, 2]).round(4).tolist()
[0.7236, 0.2764]
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from monitoring.estimators.table import Floats

MOST_STEPS = 5000
CLOSE = 1e-9  # the largest change of a mass in the last step


@dataclass(frozen=True, slots=True)
class Turnbull:
    """Masses of the innermost intervals (left, right]; `left`, `right` `(n,)`, `mass` `(..., n)` adding up to 1."""

    left: Floats
    right: Floats
    mass: Floats


def innermost(left: ArrayLike, right: ArrayLike) -> tuple[Floats, Floats]:
    """Intervals from a left end to the next right end with no other end between: deaths can only be told there.

    With (l, r] a left end l lies just after a right end of the same age, so (4, 5] and (5, 7] share no age.
    """
    lefts, rights = np.unique(np.asarray(left, float)), np.unique(np.asarray(right, float))
    following = np.searchsorted(rights, lefts, side="right")
    ends = rights[np.minimum(following, rights.size - 1)]
    last = np.searchsorted(lefts, ends, side="left") - 1  # greatest left end below that right end
    keep = (following < rights.size) & (lefts[last] == lefts)
    return lefts[keep], ends[keep]


def turnbull(left: ArrayLike, right: ArrayLike, trees: ArrayLike | None = None) -> Turnbull:
    """Nonparametric maximum-likelihood survival of interval-censored trees.

    Parameters
    ----------
    left, right : (n,) ages, `left < right`; `right` is infinite for a tree not seen dead.
    trees : (..., n) trees of each interval, one by default; leading axes are worked at once (resamples of plots).

    Raises
    ------
    ValueError
        If an interval is empty.

    Notes
    -----
    Self-consistency (EM) from equal masses until none moves by more than 1e-9.

    References
    ----------
    Turnbull (1976), J. R. Stat. Soc. B 38:290; innermost intervals: Peto (1973), Applied Statistics 22:86.
    """
    lower, upper = np.asarray(left, float), np.asarray(right, float)
    if not (lower < upper).all():
        raise ValueError("every interval needs its left end below its right end.")
    counts = np.ones(lower.size) if trees is None else np.asarray(trees, float)
    starts, ends = innermost(lower, upper)
    inside = ((lower[:, None] <= starts) & (ends <= upper[:, None])).astype(float)
    total = counts.sum(axis=-1, keepdims=True)
    share = np.divide(counts, total, out=np.zeros_like(counts), where=total > 0)
    mass = np.full((*counts.shape[:-1], starts.size), 1 / max(starts.size, 1))
    for _ in range(MOST_STEPS):
        chance = mass @ inside.T
        pulled = np.divide(share, chance, out=np.zeros_like(chance), where=share > 0) @ inside
        after = mass * pulled
        done = float(np.abs(after - mass).max(initial=0)) < CLOSE
        mass = after
        if done:
            break
    return Turnbull(starts, ends, mass)


def survival_at(found: Turnbull, ages: ArrayLike) -> Floats:
    """Share living just after each age `(..., n_ages)`; NaN inside an interval with mass, where no count tells."""
    at = np.asarray(ages, float)
    gone = found.right[:, None] <= at
    survival = 1 - found.mass @ gone.astype(float)
    inside = (found.left[:, None] < at) & (at < found.right[:, None])
    untold = found.mass @ inside.astype(float) > CLOSE * 10
    return np.where(untold, np.nan, np.clip(survival, 0, 1))

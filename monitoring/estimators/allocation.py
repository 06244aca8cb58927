"""How the plots of a project are shared out among its blocks."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize

from monitoring.estimators.table import Floats

EQUAL, PROPORTIONAL, NEYMAN, OPTIMAL_COST = "equal", "proportional", "neyman", "optimal_cost"
RULES = (EQUAL, PROPORTIONAL, NEYMAN, OPTIMAL_COST)
MOST_STEPS = 100_000
WINDOW = 8  # whole plots either way that are tried under a budget


@dataclass(frozen=True, slots=True)
class Allocation:
    """Plots of each block.

    Attributes
    ----------
    plots : whole plots by block, in the order given.
    variance : variance of the survival of all blocks together that they give, Σ W² S² / n. [share²]
    real : what the rule asks before rounding and before the least and most of each block.
    """

    plots: tuple[int, ...]
    variance: float
    real: tuple[float, ...]


def allocate(
    total_or_budget: float,
    *,
    sizes: ArrayLike,
    spreads: ArrayLike,
    costs: ArrayLike | None = None,
    rule: str = PROPORTIONAL,
    at_least: int = 2,
    at_most: Sequence[int | None] | None = None,
) -> Allocation:
    """Share plots out among blocks.

    Parameters
    ----------
    total_or_budget : plots in all; under `optimal_cost` the money (or days) to spend.
    sizes : (n_blocks,) trees planted, above 0, which weigh the blocks. [trees]
    spreads : (n_blocks,) standard deviation of survival from plot to plot. [share]
    costs : (n_blocks,) cost of one plot; needed by `optimal_cost`, unused otherwise.
    rule : `equal`, `proportional` to sizes, `neyman` (sizes × spreads) or `optimal_cost`
        (sizes × spreads / √cost).
    at_least : fewest plots of a block; two are needed to see how much plots differ.
    at_most : plots each block could hold, None where unknown. A block counted whole adds no variance.

    Raises
    ------
    ValueError
        If an array has another length or an impossible value, the rule is unknown, costs are missing, or the
        plots or the budget do not reach for the least of every block.

    Notes
    -----
    Whole plots come one at a time from the least of each block upwards, each to the block where it takes most off
    Σ a²/n (per cost, under a budget), with a = W S, W or 1 by rule. Without a budget that is the best of all
    allocations; under a budget, an integer program then looks for a better one nearby, since money can be left.

    References
    ----------
    Cochran (1977), Sampling Techniques, 3rd ed., equations 5.23 to 5.26; Wright (2012), The American Statistician
    66:217, for whole numbers (from memory).

    Examples
    --------
    >>> allocate(30, sizes=[40, 25, 35], spreads=[0.3, 0.4583, 0.2179], rule="neyman").plots
    (12, 11, 7)
    """
    w, s, cost = _checked(sizes, spreads, costs, rule)
    if at_least < 1:
        raise ValueError("at_least must be 1 or more.")
    most = _most(at_most, w.size)
    least = np.minimum(at_least, most)
    pull = _pull(rule, w, s)
    if (least * cost).sum() > total_or_budget * (1 + 1e-12):
        raise ValueError(f"{total_or_budget:g} do not reach for {at_least} plots in every block.")
    plots = _one_by_one(total_or_budget, pull, cost, least, most)
    if rule == OPTIMAL_COST:
        plots = _exchanged(plots, total_or_budget, pull, cost, least, most)
    real = pull / np.sqrt(cost)
    real = real * total_or_budget / (real * cost).sum()
    return Allocation(
        tuple(int(n) for n in plots), variance_of(plots, w, s, at_most), tuple(map(float, real))
    )


def variance_of(
    plots: ArrayLike, sizes: ArrayLike, spreads: ArrayLike, at_most: Sequence[int | None] | None = None
) -> float:
    """Variance of the survival of all blocks together, Σ W² S² (1/n − 1/N).

    N is the number of plots a block could hold, endless where unknown.

    Examples
    --------
    >>> round(variance_of([12, 11, 7], [40, 25, 35], [0.3, 0.4583, 0.2179]), 6)
    0.003224
    """
    w = np.asarray(sizes, float) / np.sum(sizes)
    n, held = np.asarray(plots, float), _most(at_most, w.size)
    return float((w**2 * np.asarray(spreads, float) ** 2 * np.maximum(1 / n - 1 / held, 0)).sum())


def _checked(
    sizes: ArrayLike, spreads: ArrayLike, costs: ArrayLike | None, rule: str
) -> tuple[Floats, Floats, Floats]:
    w, s = np.asarray(sizes, float), np.asarray(spreads, float)
    if rule not in RULES:
        raise ValueError(f"rule must be one of {', '.join(RULES)}.")
    if rule == OPTIMAL_COST and costs is None:
        raise ValueError("optimal_cost needs the cost of a plot in each block.")
    cost = np.asarray(costs, float) if rule == OPTIMAL_COST else np.ones_like(w)
    if not w.size or w.shape != s.shape or w.shape != cost.shape:
        raise ValueError("sizes, spreads and costs need one entry for each block.")
    if not (w > 0).all() or not (cost > 0).all() or not (s >= 0).all():
        raise ValueError("sizes and costs must be above 0, spreads not below 0.")
    return w / w.sum(), s, cost


def _most(at_most: Sequence[int | None] | None, n_blocks: int) -> Floats:
    given: Sequence[int | None] = [None] * n_blocks if at_most is None else at_most
    if len(given) != n_blocks:
        raise ValueError("at_most needs one entry for each block.")
    return np.array([np.inf if most is None else most for most in given], float)


def _pull(rule: str, w: Floats, s: Floats) -> Floats:
    """What the rule weighs a block by; blocks that nowhere differ are shared by size."""
    if rule == EQUAL:
        return np.ones_like(w)
    return w if rule == PROPORTIONAL or not (s > 0).any() else w * s


def _gain(pull: Floats, plots: Floats) -> Floats:
    """What one more plot takes off a²/n."""
    return pull**2 / (plots * (plots + 1))


def _one_by_one(total: float, pull: Floats, cost: Floats, start: Floats, most: Floats) -> Floats:
    """Add plots one at a time where each takes most off the variance for its cost, while the total lasts."""
    plots = start.astype(float)
    left = total - (plots * cost).sum()
    for _ in range(MOST_STEPS):
        open_blocks = (plots < most) & (cost <= left + 1e-9 * total)
        if not open_blocks.any():
            return plots
        best = int(np.argmax(np.where(open_blocks, _gain(pull, plots) / cost, -1.0)))
        plots[best] += 1
        left -= cost[best]
    raise ValueError(f"more than {MOST_STEPS} plots cannot be shared out.")


def _exchanged(
    plots: Floats, budget: float, pull: Floats, cost: Floats, least: Floats, most: Floats
) -> Floats:
    """The best whole numbers within `WINDOW` of some plots, under the budget: which single plots to buy.

    Plots of a block gain less and less, so the ones bought are always its first.
    """
    first, last = np.maximum(plots - WINDOW, least), np.minimum(plots + WINDOW, most)
    block = np.repeat(np.arange(plots.size), (last - first).astype(int))
    place = np.concatenate([np.arange(a, b) for a, b in zip(first, last, strict=True)])
    left = budget - float((first * cost).sum())
    gain = _gain(pull[block], place)
    bought = optimize.milp(
        -gain / gain.max() if gain.size and gain.max() > 0 else gain,
        constraints=optimize.LinearConstraint(cost[block][None, :], ub=left * (1 + 1e-12)),
        integrality=np.ones(gain.size),
        bounds=optimize.Bounds(0, 1),
        options={"mip_rel_gap": 0.0, "time_limit": 2.0},
    )
    if bought.x is None:
        return plots
    found = first + np.bincount(block, np.rint(bought.x), plots.size).astype(float)
    return found if (pull**2 / found).sum() < (pull**2 / plots).sum() else plots

"""Which species, in which stock, how many in each block.

Maximises expected living trees, each weighed by how far it serves the purposes, under budget, stock on offer and
rules of mixture. Whole trees, whole nursery lots. Where the rules contradict one another, the smallest set of
rules to give up is found instead.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from projects.calc.mix_program import Program
from projects.calc.mix_rules import Ground, MixRules, Option, Rule

OPTIMAL, BEST_SO_FAR, INFEASIBLE, NOTHING_FOUND = "optimal", "best_so_far", "infeasible", "nothing_found"


@dataclass(frozen=True, slots=True)
class Mix:
    """What to plant.

    Attributes
    ----------
    quantities : plants of each option, in the order given.
    status : `optimal` (within the gap), `best_so_far` (time ran out), `infeasible`, `nothing_found`.
    living : expected living trees.
    worth : the sum that was maximised; `bound` is the most it could be.
    cost : money it takes.
    give_up : smallest set of rules that contradict the rest, when infeasible.
    """

    quantities: tuple[int, ...]
    status: str
    living: float = 0.0
    worth: float = 0.0
    bound: float = 0.0
    cost: float = 0.0
    give_up: tuple[Rule, ...] = ()

    @property
    def gap(self) -> float:
        """How far from the best possible, as a share of it."""
        return max(self.bound - self.worth, 0.0) / self.bound if self.bound > 0 else 0.0


def best_mix(
    options: Sequence[Option],
    grounds: Sequence[Ground],
    rules: MixRules | None = None,
    *,
    gap: float = 0.001,
    time_limit_s: float = 60.0,
) -> Mix:
    """Find the mix with the greatest worth of living trees.

    Parameters
    ----------
    options : every species × stock type × block that may be planted.
    grounds : the blocks.
    rules : what must hold.
    gap : relative distance to the best possible at which to stop.
    time_limit_s : seconds after which the best so far is given, with its bound.

    Raises
    ------
    ValueError
        If there is no option, one names an unknown block, a survival outside 0..1 or a negative price, or a
        tray holds no plant.

    Notes
    -----
    Solved by HiGHS through `scipy.optimize.milp`. Two optima of one worth may differ in their plants.
    """
    rules = rules or MixRules()
    _check(options, grounds, rules)
    program = Program.of(options, grounds, rules)
    worth = np.array([option.survival * option.worth for option in options])
    cost = np.zeros(program.n_variables)
    cost[: len(options)] = -worth
    found = program.solve(cost, gap, time_limit_s)
    if found is None:
        return Mix((0,) * len(options), NOTHING_FOUND, bound=float("inf"))
    if isinstance(found, str):
        return Mix((0,) * len(options), INFEASIBLE, give_up=program.smallest_conflict(time_limit_s))
    plants = np.rint(found.x[: len(options)]).astype(int)
    return Mix(
        quantities=tuple(int(n) for n in plants),
        status=OPTIMAL if found.status == 0 else BEST_SO_FAR,
        living=float(plants @ np.array([option.survival for option in options])),
        worth=float(plants @ worth),
        bound=float(-found.mip_dual_bound),
        cost=float(plants @ np.array([option.price for option in options])),
    )


def broken_rules(
    quantities: Sequence[int],
    options: Sequence[Option],
    grounds: Sequence[Ground],
    rules: MixRules | None = None,
) -> tuple[Rule, ...]:
    """Rules that a mix written by hand breaks; the same rules as `best_mix` obeys."""
    program = Program.of(options, grounds, rules or MixRules())
    plants = np.asarray(quantities, float)
    used = program.switches(plants)
    return tuple(
        sorted(
            {
                row.rule
                for row in program.rows
                if not row.low - 1e-6
                <= float(row.values @ np.concatenate([plants, used])[row.columns])
                <= row.high + 1e-6
            },
            key=lambda rule: (rule.kind, rule.about),
        )
    )


def _check(options: Sequence[Option], grounds: Sequence[Ground], rules: MixRules) -> None:
    if not options:
        raise ValueError("no species is left to choose from.")
    names = {ground.name for ground in grounds}
    for option in options:
        if option.block not in names:
            raise ValueError(f"block {option.block} is not among the blocks to plant.")
        if not 0 <= option.survival <= 1 or option.price < 0 or option.worth < 0:
            raise ValueError(f"{option.species}: survival must be a share, price and worth not negative.")
    if any(size < 1 for size in rules.multiple_of.values()):
        raise ValueError("a tray must hold one plant at least.")

"""Which species, in which stock, how many in each block.

Maximises expected living trees, each weighed by how far it serves the purposes, under budget, stock on offer and
rules of mixture; or finds the least money for the living trees that are wanted. Whole trees, whole nursery lots,
in one wave or two. Where the rules contradict one another, the smallest set of rules to give up is found instead.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import isfinite

import numpy as np

from projects.calc.mix_program import Program, no_clock
from projects.calc.mix_rules import FIRM, Ground, MixRules, Option, Rule

OPTIMAL, BEST_SO_FAR, INFEASIBLE, NOTHING_FOUND = "optimal", "best_so_far", "infeasible", "nothing_found"
MOST_WORTH, LEAST_COST = "most_worth", "least_cost"
SLICES = (0.3, 1.0)  # of the time limit: when a best so far is told
FIRST = 0.1  # of the time limit: for a quick mix to begin with
NOISE = 1e-9
CONFLICT_S = 5.0  # for each look at what to give up


@dataclass(frozen=True, slots=True)
class Mix:
    """What to plant.

    Attributes
    ----------
    quantities : plants of each option, in the order given.
    status : `optimal` (within the gap), `best_so_far` (time ran out), `infeasible`, `nothing_found`.
    living : expected living trees.
    worth : living trees, each weighed by how far it serves the purposes.
    bound : the most the worth could be, or under `least_cost` the least the cost could be.
    cost : money it takes.
    give_up : smallest set of rules that contradict the rest, when infeasible.
    ways_out : kinds of rule, each of which alone could be given up instead.
    aim : `most_worth` or `least_cost`.
    """

    quantities: tuple[int, ...]
    status: str
    living: float = 0.0
    worth: float = 0.0
    bound: float = 0.0
    cost: float = 0.0
    give_up: tuple[Rule, ...] = ()
    ways_out: tuple[str, ...] = ()
    aim: str = MOST_WORTH

    @property
    def gap(self) -> float:
        """How far from the best possible, as a share of it (of what it costs, under `least_cost`)."""
        if self.status in (NOTHING_FOUND, INFEASIBLE) or not isfinite(self.bound):
            return 1.0
        if self.aim == LEAST_COST:
            return max(self.cost - self.bound, 0.0) / self.cost if self.cost > 0 else 0.0
        return max(self.bound - self.worth, 0.0) / self.bound if self.bound > 0 else 0.0


def best_mix(
    options: Sequence[Option],
    grounds: Sequence[Ground],
    rules: MixRules | None = None,
    *,
    aim: str = MOST_WORTH,
    gap: float = 0.001,
    time_limit_s: float = 60.0,
) -> Mix:
    """Find the mix with the greatest worth of living trees, or the cheapest that obeys the rules.

    Parameters
    ----------
    options : every species × stock type × block that may be planted.
    grounds : the blocks.
    rules : what must hold.
    aim : `most_worth` or `least_cost`.
    gap : relative distance to the best possible at which to stop.
    time_limit_s : seconds after which the best so far is given, with its bound.

    Raises
    ------
    ValueError
        If there is no option, or one names an unknown block, a survival outside 0..1, a negative price or a wave
        other than 1 and 2; or if a tray holds no plant.

    Notes
    -----
    Solved by HiGHS through `scipy.optimize.milp`. Two optima of one worth may differ in their plants.

    Examples
    --------
    >>> oak = Option("A", "oak", "bare_root", "oak", "oak", survival=0.8, price=2.0)
    >>> best_mix([oak], [Ground("A", 50)], MixRules(living_wanted=30), aim="least_cost").quantities
    (50,)
    >>> best_mix([oak], [Ground("A", 50, 0.0)], MixRules(living_wanted=30), aim="least_cost").quantities
    (38,)
    """
    *_earlier, last = mixes_so_far(
        options, grounds, rules, aim=aim, gap=gap, time_limit_s=time_limit_s, slices=(1.0,)
    )
    return last


def mixes_so_far(
    options: Sequence[Option],
    grounds: Sequence[Ground],
    rules: MixRules | None = None,
    *,
    aim: str = MOST_WORTH,
    gap: float = 0.001,
    time_limit_s: float = 60.0,
    slices: Sequence[float] = SLICES,
    clock: Callable[[], float] = no_clock,
) -> Iterator[Mix]:
    """Yield the best mix known at the end of each slice of the time, the last one being the answer.

    The solver tells nothing while it runs. A mix of few kinds is therefore found first, then the solver is run anew
    with more time, and the best mix and the tightest bound of all runs are kept. Parameters as in `best_mix`;
    `slices` are shares of the time limit at which a run ends, rising; `clock` tells seconds, and without one each
    run may take its whole share.
    """
    rules = rules or MixRules()
    _check(options, grounds, rules)
    program = Program.of(options, grounds, rules)
    price = np.array([option.price for option in options])
    worth = np.array([option.survival * option.worth for option in options])
    cost = np.zeros(program.n_variables)
    cost[: len(options)] = price if aim == LEAST_COST else -worth
    best = Mix((0,) * len(options), NOTHING_FOUND, bound=0.0 if aim == LEAST_COST else float("inf"), aim=aim)
    begun = clock()
    if slices[0] < 1:
        found, bound = program.few_kinds(cost, gap, FIRST * time_limit_s, clock)
        if found is not None:
            best = _settled(_mix(program, found, aim, bound), gap)
            yield best
            if best.status == OPTIMAL:
                return
    for share in slices:
        left = share * time_limit_s - (clock() - begun)
        found = program.solve(cost, gap, max(left, 0.01))
        if isinstance(found, str):
            conflict = program.smallest_conflict(CONFLICT_S)
            told = replace(best, status=INFEASIBLE, give_up=conflict)
            yield told
            yield replace(told, ways_out=_ways_out(program, conflict))
            return
        if found is not None:
            best = _better(best, _mix(program, found, aim, found.mip_dual_bound))
        best = _settled(best, gap)
        yield best
        if best.status == OPTIMAL:
            return


def _settled(mix: Mix, gap: float) -> Mix:
    """Best within the gap; sums of floats may differ from the bound in their last digits."""
    return replace(mix, status=OPTIMAL) if mix.gap <= gap + NOISE else mix


def _mix(program: Program, found: object, aim: str, bound: float) -> Mix:
    """What the solver found, in whole plants."""
    options = program.options
    plants = np.rint(found.x[: len(options)]).astype(int)  # type: ignore[attr-defined]
    living = np.array([option.survival for option in options])
    worth = living * np.array([option.worth for option in options])
    return Mix(
        quantities=tuple(int(n) for n in plants),
        status=BEST_SO_FAR,
        living=float(plants @ living),
        worth=float(plants @ worth),
        bound=float(bound if aim == LEAST_COST else -bound),
        cost=float(plants @ np.array([option.price for option in options])),
        aim=aim,
    )


def _better(one: Mix, other: Mix) -> Mix:
    """The better of two mixes with the tighter of their bounds."""
    if other.aim == LEAST_COST:
        kept = other if one.status == NOTHING_FOUND or other.cost < one.cost else one
        return replace(kept, bound=max(one.bound, other.bound))
    kept = other if one.status == NOTHING_FOUND or other.worth > one.worth else one
    return replace(kept, bound=min(one.bound, other.bound))


def _ways_out(program: Program, conflict: Sequence[Rule]) -> tuple[str, ...]:
    """Kinds of rule that could each be given up alone; none where more than one has to go."""
    if len({rule.kind for rule in conflict}) != 1:
        return ()
    kinds = dict.fromkeys(row.rule.kind for row in program.rows if row.rule.kind not in FIRM)
    return tuple(kind for kind in kinds if program.holds_without(kind, CONFLICT_S))


def broken_rules(
    quantities: Sequence[int],
    options: Sequence[Option],
    grounds: Sequence[Ground],
    rules: MixRules | None = None,
) -> tuple[Rule, ...]:
    """Rules that a mix written by hand breaks; the same rules as `best_mix` obeys."""
    program = Program.of(options, grounds, rules or MixRules())
    plants = np.asarray(quantities, float)
    written = np.concatenate([plants, program.switches(plants)])
    return tuple(
        sorted(
            {
                row.rule
                for row in program.rows
                if not row.follows
                and (row.only_with is None or written[row.only_with] > 0)
                and not row.low - 1e-6 <= float(row.values @ written[row.columns]) <= row.high + 1e-6
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
        if option.wave not in (1, 2):
            raise ValueError(f"{option.species}: the wave must be 1 or 2.")
    if any(size < 1 for size in rules.multiple_of.values()):
        raise ValueError("a tray must hold one plant at least.")

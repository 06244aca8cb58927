"""Files of counts at the edges of what can be estimated, and the answer each must have.

Every case is estimated directly, and once more through the command, where its words are read too. Expected
numbers are worked out here by other means: by hand, from a Beta distribution, or by a plain sum over a grid.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
from scipy import stats

HEAD = "block,plot,species,planted,alive,dead,not_found"
TARGET = 0.8
Subject = tuple[str, str, str]  # scope, key, measure
BLOCK: Subject = ("block", "A", "survival")
PROJECT: Subject = ("project", "all", "survival")
SIX = ((20, 18), (20, 15), (20, 20), (20, 16), (20, 17), (20, 19))


@dataclass(frozen=True)
class Edge:
    """A file, what its headlines must say, and words the table must and must not hold.

    `absent` are subjects without any row; `outcomes` the code and next step against 80 %.
    """

    name: str
    text: str
    rows: Mapping[Subject, Mapping[str, Any]]
    words: tuple[str, ...] = ()
    unsaid: tuple[str, ...] = ()
    absent: tuple[Subject, ...] = ()
    outcomes: Mapping[Subject, tuple[str, str]] = field(default_factory=dict)
    other_methods: Mapping[tuple[Subject, str], Mapping[str, Any]] = field(default_factory=dict)


def lines(block: str, plots: Iterable[tuple[int, ...]], species: str = "oak", extra: str = "") -> str:
    """Plots as (planted, alive[, not found]); whatever else is not alive was seen dead."""
    told = []
    for number, (planted, alive, *lost) in enumerate(plots, 1):
        missed = lost[0] if lost else 0
        told.append(
            f"{block},{number},{species},{planted},{alive},{planted - alive - missed},{missed}{extra}"
        )
    return "\n".join(told) + "\n"


def sheet(*parts: str, more: str = "") -> str:
    return HEAD + more + "\n" + "".join(parts)


@lru_cache
def posterior(plots: tuple[tuple[int, int], ...]) -> tuple[float, float]:
    """Equal-tailed 95 % limits of mean survival by a plain sum over a fine grid of mean and correlation.

    Beta-binomial plots, mean ~ Beta(0.7, 0.7), correlation ~ Beta(1, 4).
    """
    logit = np.linspace(-12, 12, 1501)
    mean = 1 / (1 + np.exp(-logit))
    root = (np.arange(300) + 0.5) / 300  # even in the root, for the mass lies near zero
    icc = root**2
    grid_mean, grid_icc = mean[:, None], icc[None, :]
    scale = (1 - grid_icc) / grid_icc
    log_mass = stats.beta.logpdf(grid_mean, 0.7, 0.7) + np.log(grid_mean * (1 - grid_mean))
    log_mass = log_mass + stats.beta.logpdf(grid_icc, 1, 4) + np.log(2 * root)
    for planted, alive in plots:
        log_mass = log_mass + stats.betabinom.logpmf(
            alive, planted, grid_mean * scale, (1 - grid_mean) * scale
        )
    mass = np.exp(log_mass - log_mass.max()).sum(axis=1)
    total = np.concatenate([[0], np.cumsum((mass[1:] + mass[:-1]) / 2)])
    low, high = np.interp([0.025, 0.975], total / total[-1], mean)
    return float(low), float(high)


def lower(plots: tuple[tuple[int, int], ...], per: int = 1) -> Callable[[], float]:
    """The lower limit, worked out when a test asks: every run of the tests reads this module."""
    return lambda: per * posterior(plots)[0]


def upper(plots: tuple[tuple[int, int], ...]) -> Callable[[], float]:
    """The upper limit, worked out when a test asks."""
    return lambda: posterior(plots)[1]


def ratio_se(plots: Iterable[tuple[float, float]], visited: int | None = None, weights: Any = 1.0) -> float:
    """Standard error of alive/planted over `visited` plots, those not listed being empty."""
    planted, alive = (np.array(column, float) for column in zip(*plots, strict=True))
    weight = np.broadcast_to(np.asarray(weights, float), planted.shape)
    n = visited or planted.size
    total = (weight * planted).sum()
    residual = weight * (alive - (weight * alive).sum() / total * planted)
    squares = (residual**2).sum() - residual.sum() ** 2 / n
    return float(np.sqrt(n / (n - 1) * squares) / total)


def lonely_se(
    sampled: Iterable[tuple[int, int]], alone: tuple[int, int], weights: tuple[float, float]
) -> float:
    """Two blocks, one with a single plot, which adds its squared residual."""
    planted, alive = (np.array(column, float) for column in zip(*sampled, strict=True))
    total = weights[0] * planted.sum() + weights[1] * alone[0]
    ratio = (weights[0] * alive.sum() + weights[1] * alone[1]) / total
    residual = weights[0] * (alive - ratio * planted)
    spread = planted.size / (planted.size - 1) * ((residual - residual.mean()) ** 2).sum()
    return float(np.sqrt(spread + (weights[1] * (alone[1] - ratio * alone[0])) ** 2) / total)


ALIKE_TREES = 120 / (1 + 19 * 0.1)  # effective trees of six plots of twenty at the assumed correlation of 0.1
ALL_LIVE = ((20, 20),) * 6
FIVE = SIX[:5]

CASES = (
    Edge(
        "every tree lives",
        sheet(lines("A", ALL_LIVE)),
        {BLOCK: {"value": 1, "upper": 1, "lower": lower(ALL_LIVE), "n_trees": 120}},
        words=("block A, survival: meets the target of 80 %",),
        outcomes={BLOCK: ("meets_target", "")},
        other_methods={(BLOCK, "ratio_logit_t"): {"lower": 0.025 ** (1 / ALIKE_TREES), "upper": 1, "se": 0}},
    ),
    Edge(
        "no tree lives",
        sheet(lines("A", [(20, 0)] * 6)),
        {BLOCK: {"value": 0, "lower": 0, "upper": upper(((20, 0),) * 6), "n_trees": 120}},
        words=("block A, survival: falls short of the target of 80 %",),
        outcomes={BLOCK: ("falls_short", "")},
        other_methods={(BLOCK, "ratio_logit_t"): {"upper": 1 - 0.025 ** (1 / ALIKE_TREES), "lower": 0}},
    ),
    Edge(
        "one plot",
        sheet(lines("A", [(20, 17)])),
        {
            BLOCK: {"status": "not_estimable", "reason": "one_plot", "value": None, "lower": None, "n_plots": 1},
            PROJECT: {"status": "not_estimable", "reason": "one_plot", "n_trees": 20, "n_alive": 17},
        },
        words=("not estimable", "block A: One plot alone cannot say how sure a figure is"),
        unsaid=("meets", "falls short", "not settled"),
        outcomes={BLOCK: ("", "")},
    ),
    Edge(
        "one lonely block",
        sheet(lines("A", FIVE, extra=",500"), lines("B", [(20, 10)], extra=",300"), more=",block_planted"),
        {
            PROJECT: {
                "method": "stratified_logit_t", "reason": "lonely_block", "value": (500 * 0.86 + 300 * 0.5) / 800,
                "se": lonely_se(FIVE, (20, 10), (5, 15)), "n_plots": 6,
            },
            ("block", "B", "survival"): {"status": "not_estimable", "reason": "one_plot"},
            BLOCK: {"status": "ok", "value": 0.86},
        },
        words=("project all: A block with a single plot widens the interval on purpose",),
    ),
    Edge(
        "every block lonely",
        sheet(lines("A", [(20, 17)], extra=",500"), lines("B", [(20, 10)], extra=",300"), more=",block_planted"),
        {PROJECT: {"status": "not_estimable", "reason": "one_plot_each", "value": None, "n_plots": 2}},
        words=("project all: Every block has a single plot",),
        outcomes={PROJECT: ("", "")},
    ),
    Edge(
        "empty plots beside others",
        sheet(lines("A", SIX), "A,7,,0,0,0,0\nA,8,,0,0,0,0\n"),
        {BLOCK: {"value": 105 / 120, "n_plots": 8, "n_trees": 120, "lower": lower(SIX)}},
        other_methods={(BLOCK, "ratio_logit_t"): {"se": ratio_se(SIX, 8)}},
    ),
    Edge(
        "only empty plots",
        sheet("A,1,,0,0,0,0\nA,2,,0,0,0,0\n"),
        {BLOCK: {"status": "not_estimable", "reason": "nothing_planted", "n_plots": 2, "n_trees": 0}},
        words=("block A: The counted plots hold no planted trees",),
        absent=(PROJECT,),
    ),
    Edge(
        "a planted block whose plots are empty",
        sheet(lines("A", FIVE, extra=",500"), "B,1,,0,0,0,0,300\nB,2,,0,0,0,0,300\n", more=",block_planted"),
        {
            PROJECT: {"value": 0.86, "reason": "block_left_out"},
            ("block", "B", "survival"): {"status": "not_estimable", "reason": "nothing_planted"},
        },
        words=("project all: A block without a planted tree to judge",),
    ),
    Edge(
        "a species absent from a block",
        sheet(
            lines("A", FIVE, extra=",600"), lines("B", SIX, extra=",400"),
            lines("B", [(5, 1)] * 5 + [(5, 5)], species="rowan", extra=",400"), more=",block_planted",
        ),
        {
            ("species", "rowan", "survival"): {"value": 10 / 30, "n_plots": 6, "method": "beta_binomial_posterior"},
            ("block_species", "B:rowan", "survival"): {"value": 10 / 30},
            PROJECT: {"value": 0.6 * 0.86 + 0.4 * 115 / 150},
        },
        absent=(("block_species", "A:rowan", "survival"),),
    ),
    Edge(
        "no tree found",
        sheet(lines("A", [(20, 0, 20)] * 6)),
        {
            BLOCK: {"value": 0, "lower": 0, "upper": upper(((20, 0),) * 6)},
            ("block", "A", "survival_if_found"): {"value": 1, "upper": 1, "lower": lower(ALL_LIVE)},
        },
        words=("not settled yet against 80 %: go back and look for the trees not found",),
        outcomes={BLOCK: ("not_settled", "look_again")},
    ),
    Edge(
        "a block of one tree",
        sheet("A,1,oak,1,1,0,0\n"),
        {BLOCK: {"status": "not_estimable", "reason": "one_plot", "n_trees": 1, "n_alive": 1}},
        words=("One plot alone",),
    ),
    Edge(
        "a block of one tree, counted whole",
        sheet("A,1,oak,1,1,0,0,yes\n", more=",census"),
        {BLOCK: {"method": "census", "value": 1, "lower": 1, "upper": 1, "se": 0}},
        outcomes={BLOCK: ("meets_target", "")},
    ),
    Edge(
        "a census",
        sheet("A,1,oak,300,225,45,30,yes\n", more=",census"),
        {
            BLOCK: {"method": "census", "value": 0.75, "lower": 0.75, "upper": 0.75, "deff": 0},
            ("block", "A", "survival_if_found"): {"value": 0.85, "lower": 0.85, "upper": 0.85},
        },
        words=("not settled yet against 80 %: go back and look",),
        outcomes={BLOCK: ("not_settled", "look_again")},
    ),
    Edge(
        "every plot the block could hold",
        sheet(lines("A", SIX, extra=",6"), more=",block_plots"),
        {BLOCK: {"method": "census", "value": 105 / 120, "lower": 105 / 120, "upper": 105 / 120}},
        outcomes={BLOCK: ("meets_target", "")},
    ),
    Edge(
        "a census beside a block with a single plot",
        sheet(
            lines("A", [(300, 270)], extra=",300,yes"), lines("B", [(20, 10)], extra=",300,no"),
            more=",block_planted,census",
        ),
        {PROJECT: {"reason": "one_plot_each"}, BLOCK: {"value": 0.9, "upper": 0.9}},
    ),
    Edge(
        "a rebuilt baseline",
        sheet(lines("A", SIX, extra=",visible_spots"), more=",baseline"),
        {("block", "A", "share_of_visible_spots"): {"value": 105 / 120, "lower": lower(SIX)}},
        unsaid=("target",),
        absent=(BLOCK, PROJECT),
    ),
    Edge(
        "a rebuilt baseline beside counted ones",
        sheet(lines("A", FIVE, extra=","), "A,9,oak,20,20,0,0,visible_spots\n", more=",baseline"),
        {
            BLOCK: {"value": 0.86, "n_plots": 5, "n_trees": 100, "reason": "plots_without_baseline"},
            ("block", "A", "share_of_visible_spots"): {"status": "not_estimable", "reason": "one_plot"},
        },
        words=("block A: Plots in which nobody counted the trees planted are left out",),
        other_methods={(BLOCK, "ratio_logit_t"): {"se": ratio_se(FIVE)}},
    ),
    Edge(
        "mixed ages",
        sheet(lines("A", ALL_LIVE[:3], extra=",2023"), lines("B", ALL_LIVE[:5], extra=",2024"),
              "A,9,oak,20,20,0,0,2024\n", more=",planting_season"),
        {BLOCK: {"value": 1, "status": "ok"}},
        words=(
            "block A, survival: no outcome: trees of several planting seasons",
            "block B, survival: meets the target",
        ),
        outcomes={BLOCK: ("", ""), ("block", "B", "survival"): ("meets_target", "")},
    ),
    Edge(
        "one block without its weight",
        sheet(lines("A", FIVE, extra=",500"), lines("B", SIX, extra=","), more=",block_planted"),
        {
            PROJECT: {"status": "not_estimable", "reason": "block_weight_missing", "value": None},
            BLOCK: {"status": "ok", "value": 0.86},
            ("block", "B", "survival"): {"status": "ok", "value": 105 / 120},
        },
        words=("project all: A block lacks its number of trees planted, so blocks cannot be pooled",),
    ),
    Edge(
        "seed spots beside trees",
        sheet(
            lines("A", SIX, extra=",tree"), lines("A", [(30, 9)] * 5 + [(30, 15)], extra=",seed_spot"), more=",unit"
        ),
        {
            BLOCK: {"value": 105 / 120, "n_trees": 120},
            ("block", "A", "spot_occupancy"): {"value": 60 / 180, "n_trees": 180, "n_plots": 6},
        },
        unsaid=("spot_occupancy: meets", "spot_occupancy: falls", "spot_occupancy: not settled"),
    ),
    Edge(
        "seed spots alone",
        sheet(lines("A", [(30, 9)] * 5 + [(30, 15)], extra=",seed_spot"), more=",unit"),
        {("block", "A", "spot_occupancy"): {"value": 1 / 3}},
        absent=(BLOCK, PROJECT),
        unsaid=("target",),
    ),
    Edge(
        "seed sown by weight",
        sheet(lines("A", [(400, 9), (500, 12), (300, 3)], extra=",seed"), more=",unit"),
        {("block", "A", "seedlings_per_100_seeds"): {"value": 2.0, "lower": lower(
            ((400, 9), (500, 12), (300, 3)), per=100)}},
        absent=(BLOCK,),
    ),
    Edge(
        "removals",
        "block,plot,species,planted,alive,dead,removed\n" + "".join(
            f"A,{n},oak,20,{alive},{15 - alive},5\n" for n, alive in enumerate((12, 13, 15, 14, 12))),
        {
            BLOCK: {"value": 66 / 75, "n_trees": 75},
            ("block", "A", "survival_removed_alive"): {"value": 91 / 100, "n_trees": 100},
        },
        outcomes={BLOCK: ("not_settled", "more_plots")},
    ),
    Edge(
        "every tree removed on purpose",
        "block,plot,species,planted,alive,dead,removed\nA,1,oak,20,0,0,20\nA,2,oak,20,0,0,20\n",
        {
            BLOCK: {"status": "not_estimable", "reason": "nothing_assessed"},
            ("block", "A", "survival_removed_alive"): {"value": 1},
        },
        words=("block A: No planted tree was looked at, or all were removed on purpose",),
    ),
    Edge(
        "no tree looked at",
        "block,plot,species,planted,alive,dead,not_assessed\nA,1,oak,20,0,0,20\nA,2,oak,20,0,0,20\n",
        {BLOCK: {"status": "not_estimable", "reason": "nothing_assessed", "value": None}},
        words=("No planted tree was looked at",),
    ),
    Edge(
        "a late baseline",
        sheet(lines("A", SIX, extra=",later"), more=",baseline"),
        {BLOCK: {"value": 105 / 120, "lower": lower(SIX), "upper": upper(SIX)}},
    ),
    Edge(
        "no baseline at all",
        "block,plot,species,planted,alive,baseline\nA,1,oak,,5,none\nA,2,oak,,6,none\n",
        {BLOCK: {"status": "not_estimable", "reason": "no_baseline", "n_plots": 2, "n_flagged": 0}},
        words=("block A: Nobody counted how many trees were planted in these plots",),
        absent=(PROJECT,),
    ),
    Edge(
        "some plots without a baseline",
        sheet(lines("A", FIVE, extra=","), "A,8,oak,,17,,,none\nA,9,oak,,3,,,none\n", more=",baseline"),
        {BLOCK: {"value": 0.86, "n_plots": 5, "reason": "plots_without_baseline", "lower": lower(FIVE)}},
        words=("block A: Plots in which nobody counted the trees planted are left out of this figure",),
        other_methods={(BLOCK, "ratio_logit_t"): {"se": ratio_se(FIVE)}},
    ),
    Edge(
        "a destroyed plot",
        sheet(lines("A", FIVE, extra=","), "A,9,oak,20,,,,destroyed\n", more=",status"),
        {
            BLOCK: {"value": 86 / 120, "n_plots": 6, "lower": lower((*FIVE, (20, 0)))},
            ("block", "A", "survival_if_found"): {"value": 86 / 120},
        },
    ),
    Edge(
        "a missing plot",
        sheet(lines("A", FIVE, extra=","), "A,9,oak,20,,,,missing\n", more=",status"),
        {BLOCK: {"value": 0.86, "n_plots": 5, "n_trees": 100, "lower": lower(FIVE)}},
    ),
    Edge(
        "rows of unequal length",
        sheet(lines("A", [(12, 10), (15, 15), (9, 4), (15, 12), (15, 14)])),
        {BLOCK: {"value": 55 / 66, "lower": lower(((12, 10), (15, 15), (9, 4), (15, 12), (15, 14)))}},
        other_methods={
            (BLOCK, "ratio_logit_t"): {"se": ratio_se([(12, 10), (15, 15), (9, 4), (15, 12), (15, 14)])}
        },
        unsaid=("stocking",),
    ),
    Edge(
        "holdings of unequal weight",
        HEAD + ",plot_weight\n" + "".join(
            f"A,{n},oak,{planted},{alive},{planted - alive},0,{weight}\n"
            for n, (planted, alive, weight) in enumerate(
                ((100, 80, 1), (50, 45, 2), (20, 10, 5), (200, 150, 0.5), (30, 30, 3.5)))),
        {
            BLOCK: {
                "method": "ratio_logit_t", "reason": "unequal_plot_weights", "value": 400 / 505,
                "se": ratio_se([(100, 80), (50, 45), (20, 10), (200, 150), (30, 30)], weights=[1, 2, 5, 0.5, 3.5]),
            },
        },
        words=("block A: Plots carry different weights, so the interval is the weighted one",),
    ),
    Edge(
        "holdings of unequal weight, every tree alive",
        HEAD + ",plot_weight\n" + "".join(f"A,{n},oak,20,20,0,0,{n}\n" for n in (1, 2, 3, 4)),
        # effective trees: (Σwm)²/Σw²m = 200²/600 (Kish), plots of 20, correlation 0.1
        {BLOCK: {"value": 1, "upper": 1, "lower": 0.025 ** ((200**2 / 600) ** -1 * (1 + 19 * 0.1))}},
    ),
    Edge(
        "single trees",
        sheet(lines("A", [(1, 1)] * 12 + [(1, 0)] * 3)),
        # with one tree a plot there is no correlation to see: the posterior is Beta(0.7 + 12, 0.7 + 3)
        {BLOCK: {"value": 0.8, "lower": float(stats.beta.ppf(0.025, 12.7, 3.7)),
                 "upper": float(stats.beta.ppf(0.975, 12.7, 3.7)), "n_plots": 15}},
    ),
)  # fmt: skip

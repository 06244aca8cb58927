"""The chance that a survey settles whether a target is met, by surveys made up with a fixed seed.

Each made-up survey is judged as a real one would be: by the share of the beta-binomial posterior that lies below
the target. Only that share is wanted, so the posterior is summed on a small grid of its own around the target.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import special

from monitoring.estimators.posterior import ICC_PRIOR, MEAN_PRIOR
from monitoring.estimators.table import Floats, Ints

N_SURVEYS = 2000
N_LOGIT, N_ICC = 72, 16  # nodes of survival, half on each side of the target, and of the icc
FARTHEST = 13.0  # logits from the target to the last node
SEED = 20261


@dataclass(frozen=True, slots=True)
class Chances:
    """Shares of surveys that end so; what is left is not settled."""

    meets: float
    falls_short: float


@lru_cache(maxsize=64)
def chances(
    plots: tuple[int, ...],
    survival: float,
    trees_per_plot: int,
    icc: float,
    target: float,
    level: float,
    block_plots: int | None = None,
) -> tuple[Chances, ...]:
    """Chance of each outcome for several numbers of plots, every tree of a plot found.

    Parameters
    ----------
    plots : numbers of plots; the smaller surveys are the first plots of the larger ones.
    survival, icc : what is taken for true: mean of the beta-binomial and intra-plot correlation.
    trees_per_plot : planted trees in each plot.
    target : share between 0 and 1.
    level : one-sided confidence of the limits.
    block_plots : plots the block holds; that many are a census, which its own share settles.

    Notes
    -----
    `N_SURVEYS` surveys give a standard error of at most 1.1 points. The seed is fixed: the same question has the
    same answer.
    """
    counts = made_up_surveys(max(plots), survival, trees_per_plot, icc)
    nodes = Nodes.around(target, icc, trees_per_plot)
    return tuple(
        _census(counts[:, :k], trees_per_plot, target)
        if k == block_plots
        else judged(counts[:, :k], nodes, target, level)
        if k > 1
        else Chances(0.0, 0.0)
        for k in plots
    )


def _census(counts: Ints, n_trees: int, target: float) -> Chances:
    """A block counted whole has no sampling error: its share says it."""
    meets = float((counts.sum(axis=1) >= target * n_trees * counts.shape[1]).mean())
    return Chances(meets, 1 - meets)


@dataclass(frozen=True, slots=True)
class Nodes:
    """The grid about a target for plots of one size.

    Attributes
    ----------
    log_likelihood : (n_trees + 1, n_nodes) of one plot with 0, 1, … alive.
    log_prior : (n_nodes,) with the width of each node.
    below : (n_nodes,) 1 where survival lies below the target, else 0.
    """

    log_likelihood: Floats
    log_prior: Floats
    below: Floats

    @classmethod
    def around(cls, target: float, icc: float, n_trees: int) -> "Nodes":
        """Nodes lie densest at the target and at the icc of the made-up surveys, where posteriors gather."""
        logit, log_step = _stretched(float(special.logit(target)), 0.15, -FARTHEST, FARTHEST, N_LOGIT)
        root, log_root_step = _stretched(math.sqrt(icc), 0.1, -math.sqrt(icc), 1 - math.sqrt(icc), N_ICC)
        log_mean = MEAN_PRIOR[0] * special.log_expit(logit) + MEAN_PRIOR[1] * special.log_expit(-logit)
        log_icc = np.log(root) + special.xlog1py(ICC_PRIOR[1] - 1, -(root**2))
        log_prior = (log_mean + log_step)[:, None] + log_icc + log_root_step
        table = _log_likelihood(special.expit(logit), special.expit(-logit), root**2, n_trees)
        return cls(table, log_prior.ravel(), np.repeat(logit < special.logit(target), N_ICC).astype(float))


def _stretched(centre: float, scale: float, low: float, high: float, n: int) -> tuple[Floats, Floats]:
    """Midpoints of n pieces from centre + low to centre + high, finest at the centre, and log widths."""
    first, last = math.asinh(low / scale), math.asinh(high / scale)
    step = (last - first) / n
    t = first + (np.arange(n) + 0.5) * step
    return centre + scale * np.sinh(t), np.log(scale * np.cosh(t) * step)


def _log_likelihood(alive: Floats, dead: Floats, icc: Floats, n_trees: int) -> Floats:
    """Beta-binomial log likelihood of 0..n_trees alive at every node, by rising factors."""
    steps = np.arange(n_trees)[:, None, None] * icc

    def rising(share: Floats) -> Floats:
        factors = np.log(share[:, None] * (1 - icc) + steps)
        return np.concatenate([np.zeros_like(factors[:1]), factors.cumsum(axis=0)])

    whole = np.log((1 - icc) + steps).sum(axis=0)
    return (rising(alive) + rising(dead)[::-1] - whole).reshape(n_trees + 1, -1)


def made_up_surveys(most_plots: int, survival: float, n_trees: int, icc: float) -> Ints:
    """Alive in each plot of made-up surveys, (N_SURVEYS, most_plots)."""
    random = np.random.Generator(np.random.Philox(key=SEED))
    shape = (N_SURVEYS, most_plots)
    if icc <= 0:
        return random.binomial(n_trees, np.full(shape, survival))
    scale = (1 - icc) / icc
    return random.binomial(n_trees, random.beta(survival * scale, (1 - survival) * scale, shape))


def judged(counts: Ints, nodes: Nodes, target: float, level: float) -> Chances:
    """Hold the posterior of each survey against the target, limits never excluding the share itself."""
    n_surveys, n_plots = counts.shape
    width = nodes.log_likelihood.shape[0]
    codes = (np.arange(n_surveys)[:, None] * width + counts).ravel()
    histogram = np.bincount(codes, minlength=n_surveys * width).reshape(n_surveys, width).astype(float)
    log_mass = histogram @ nodes.log_likelihood + nodes.log_prior
    mass = np.exp(log_mass - log_mass.max(axis=1, keepdims=True))
    below = (mass @ nodes.below) / mass.sum(axis=1)
    share = counts.sum(axis=1) / (n_plots * (width - 1))
    meets = (below <= 1 - level) & (share >= target)
    falls = (below >= level) & (share < target)
    return Chances(float(meets.mean()), float(falls.mean()))

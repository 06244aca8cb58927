"""Ranks of things on the same ground: a logit of block plus thing, the things drawn towards each other."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from monitoring.estimators.table import Floats, Ints

N_SPREADS, N_DRAWS, SEED = 14, 4000, 7
SPREADS = np.geomspace(0.02, 3.0, N_SPREADS)  # standard deviation between things, on the logit scale
SPREAD_SCALE = 1.0  # half-normal prior of that standard deviation
BLOCK_SCALE = 2.5  # normal prior of a block about all blocks, wide enough to leave blocks their own level
STEPS, LONGEST_STEP, CLOSE = 40, 2.0, 1e-9


@dataclass(frozen=True, slots=True)
class Ranks:
    """Ranks inside one connected group, 1 the best; each `(n_items,)`.

    Attributes
    ----------
    low, high : ranks held with the probability asked for.
    best : probability of rank 1.
    """

    low: Ints
    high: Ints
    best: Floats


def ranks(alive: Floats, trees: Floats, level: float = 0.95) -> Ranks:
    """Rank things that are linked through shared blocks, each block's own level taken out.

    Parameters
    ----------
    alive, trees : (n_items, n_blocks) effective independent trees; 0 where a thing does not stand in a block.

    Notes
    -----
    logit(survival) = block + thing; things ~ Normal(0, s²), s half-normal(1) and integrated over; each block about
    the mean of all. Normal approximation at the mode for every s, from which ranks are drawn, the same at every
    call.

    References
    ----------
    Goldstein & Spiegelhalter (1996), J. R. Statist. Soc. A 159:385; Breslow & Clayton (1993), J. Amer. Statist.
    Assoc. 88:9, for the approximation (from memory).

    Examples
    --------
    The first two stand side by side in an easy block, the last two in a hard one:

    >>> found = ranks(np.array([[45.0, 0], [47, 20], [0, 33]]), np.array([[50.0, 0], [50, 50], [0, 50]]))
    >>> found.low.tolist(), found.high.tolist()
    ([1, 2, 1], [3, 3, 2])
    """
    draws = _draws(alive, trees)
    place = (-draws).argsort(axis=1).argsort(axis=1) + 1
    tail = (1 - level) / 2
    low, high = (np.quantile(place, q, axis=0, method="inverted_cdf") for q in (tail, 1 - tail))
    return Ranks(low.astype(np.int64), high.astype(np.int64), (place == 1).mean(axis=0))


def _draws(alive: Floats, trees: Floats) -> Floats:
    """`(N_DRAWS, n_items)` of the things' effects on the logit scale."""
    modes = _modes(alive, trees)
    log_mass = np.array([mode.log_mass for mode in modes])
    mass = np.exp(log_mass - log_mass.max())
    ends = np.rint(np.cumsum(mass) / mass.sum() * N_DRAWS).astype(int)
    noise = np.random.default_rng(SEED).standard_normal((N_DRAWS, len(alive)))
    noise[N_DRAWS // 2 :] = -noise[: N_DRAWS // 2]
    noise = noise[np.arange(N_DRAWS).reshape(2, -1).T.ravel()]  # a draw next to its mirror image
    parts = np.split(noise, ends[:-1])
    return np.concatenate([m.effect + part @ m.root for m, part in zip(modes, parts, strict=True)])


@dataclass(frozen=True, slots=True)
class _Mode:
    """Mode at one spread: effects, a root of their covariance, and log prior × marginal likelihood."""

    effect: Floats
    root: Floats
    log_mass: float


def _modes(alive: Floats, trees: Floats) -> list[_Mode]:
    whole = trees.sum()
    centre = special.logit(np.clip(alive.sum() / whole, 0.5 / whole, 1 - 0.5 / whole))
    block = np.full(alive.shape[1], float(centre))
    effect = np.zeros(alive.shape[0])
    modes = []
    for spread in SPREADS:
        effect, block = _climb(alive, trees, effect, block, centre, spread)
        modes.append(_mode(alive, trees, effect, block, centre, spread))
    return modes


def _climb(
    alive: Floats, trees: Floats, effect: Floats, block: Floats, centre: float, spread: float
) -> tuple[Floats, Floats]:
    """Newton's way to the mode, blocks eliminated at each step."""
    for _ in range(STEPS):
        residual, weight = _working(alive, trees, effect, block)
        up_effect = residual.sum(axis=1) - effect / spread**2
        up_block = residual.sum(axis=0) - (block - centre) / BLOCK_SCALE**2
        inner, outer = _curvature(weight, spread)
        step = np.linalg.solve(outer, up_effect - weight @ (up_block / inner))
        block_step = (up_block - weight.T @ step) / inner
        longest = max(np.abs(step).max(), np.abs(block_step).max())
        scale = min(1.0, LONGEST_STEP / max(longest, CLOSE))
        effect, block = effect + scale * step, block + scale * block_step
        if longest < CLOSE:
            break
    return effect, block


def _working(alive: Floats, trees: Floats, effect: Floats, block: Floats) -> tuple[Floats, Floats]:
    share = special.expit(effect[:, None] + block)
    return alive - trees * share, trees * share * (1 - share)


def _curvature(weight: Floats, spread: float) -> tuple[Floats, NDArray[np.float64]]:
    """Curvature of the blocks, and of the things once the blocks are eliminated."""
    inner = weight.sum(axis=0) + 1 / BLOCK_SCALE**2
    outer = np.diag(weight.sum(axis=1) + 1 / spread**2) - (weight / inner) @ weight.T
    return inner, outer


def _mode(alive: Floats, trees: Floats, effect: Floats, block: Floats, centre: float, spread: float) -> _Mode:
    _, weight = _working(alive, trees, effect, block)
    inner, outer = _curvature(weight, spread)
    line = effect[:, None] + block
    likelihood = (alive * special.log_expit(line) + (trees - alive) * special.log_expit(-line)).sum()
    prior = -0.5 * (effect**2).sum() / spread**2 - 0.5 * ((block - centre) ** 2).sum() / BLOCK_SCALE**2
    prior -= effect.size * np.log(spread)
    _, log_det = np.linalg.slogdet(outer)
    flat = 0.5 * (np.log(inner).sum() + log_det)
    of_spread = np.log(spread) - 0.5 * (spread / SPREAD_SCALE) ** 2  # prior × step of the geometric grid
    root = np.linalg.cholesky(np.linalg.inv(outer)).T
    return _Mode(effect, root, float(likelihood + prior - flat + of_spread))

"""Resampling plots within their blocks: the standard error of any figure made of sums over plots."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from monitoring.estimators.sums import summed
from monitoring.estimators.table import Floats, Ints

RESAMPLES = 400  # the standard error over them is itself within 4 % or so


@dataclass(frozen=True, slots=True)
class BlockDraws:
    """Draws of one block: its units, the place of each among its plots, weights `(n_resamples, n_plots)`."""

    units: Ints
    plot: Ints
    weight: Floats


@dataclass(frozen=True, slots=True)
class Resampling:
    """How plots are drawn again.

    Each block draws n − 1 of its n plots with replacement and gives them n/(n − 1), which keeps the variance unbiased
    with few plots; a sampled fraction f draws the weights towards 1 by √(1 − f). A block with one plot adds no
    variance. The draws of a block depend on the seed, its code and its number of plots alone.

    Attributes
    ----------
    plot, block : (n_units,) codes.
    fraction : (n_blocks,) share of the block's plots that was visited, 1 for a census.
    seed : not negative.
    n_resamples : how often.

    References
    ----------
    Rao & Wu (1988), J. Am. Stat. Assoc. 83:231.
    """

    plot: Ints
    block: Ints
    fraction: Floats
    seed: int
    n_resamples: int = RESAMPLES

    def of_block(self, block: int) -> BlockDraws:
        """The draws of one block."""
        units = np.flatnonzero(self.block == block)
        plots, place = np.unique(self.plot[units], return_inverse=True)
        n = plots.size
        if n < 2:
            return BlockDraws(units, place, np.ones((self.n_resamples, n)))
        rng = np.random.default_rng([self.seed, block])
        drawn = rng.integers(n, size=(self.n_resamples, n - 1)) + n * np.arange(self.n_resamples)[:, None]
        times = np.bincount(drawn.ravel(), minlength=self.n_resamples * n).reshape(self.n_resamples, n)
        weight = 1 + np.sqrt(max(1 - self.fraction[block], 0)) * (times * (n / (n - 1)) - 1)
        return BlockDraws(units, place, weight)


def resampled(draws: BlockDraws, code: Ints, values: Floats, n_codes: int) -> Floats:
    """Sums by code over resampled plots.

    Parameters
    ----------
    draws : of one block.
    code : (n_units_of_block,) from 0 to `n_codes` − 1.
    values : (n_units_of_block, n_columns).

    Returns
    -------
    (n_resamples, n_codes, n_columns)
    """
    n_plots, n_columns = draws.weight.shape[1], values.shape[1]
    place = (draws.plot * n_codes + code)[:, None] * n_columns + np.arange(n_columns)
    plots = summed(place.ravel(), values.ravel(), n_plots * n_codes * n_columns).reshape(n_plots, -1)
    return (draws.weight @ plots).reshape(-1, n_codes, n_columns)


def spread(shares: Floats) -> Floats:
    """Standard deviation over the first axis, over the resamples that give a share; NaN where none does."""
    known = np.isfinite(shares)
    n = known.sum(axis=0)
    safe = np.maximum(n, 1)
    mean = np.where(known, shares, 0).sum(axis=0) / safe
    squares = np.where(known, (shares - mean) ** 2, 0).sum(axis=0) / safe
    return np.where(n > 0, np.sqrt(squares), np.nan)


Share = Callable[[Floats, Floats, Ints], Floats]


def standard_errors(
    resampling: Resampling,
    code: Ints,
    living: Floats,
    at_risk: Floats,
    share: Share,
    n_codes: int,
    pooled: bool,
) -> Floats:
    """Standard errors `(n_codes, n_rounds)` of `share(living, at_risk, codes)` over resampled plots.

    Parameters
    ----------
    code, living, at_risk : of each unit, `(n_units,)` and `(n_units, n_rounds)`.
    share : takes sums `(n_resamples, n, n_rounds)` of the `n` codes given and returns shares of that shape.
    pooled : codes reach over blocks, whose sums are added before the share is taken.
    """
    n_rounds = living.shape[1]
    found, total = np.full((n_codes, n_rounds), np.nan), None
    for block in np.unique(resampling.block).tolist():
        draws = resampling.of_block(block)
        both = np.concatenate([living[draws.units], at_risk[draws.units]], axis=1)
        if pooled:
            sums = resampled(draws, code[draws.units], both, n_codes)
            total = sums if total is None else total + sums
            continue
        here, local = np.unique(code[draws.units], return_inverse=True)
        sums = resampled(draws, local, both, here.size)
        found[here] = spread(share(sums[..., :n_rounds], sums[..., n_rounds:], here))
    if pooled and total is not None:
        return spread(share(total[..., :n_rounds], total[..., n_rounds:], np.arange(n_codes)))
    return found

"""Partial pooling: each thing's share drawn towards its peers, the less is known of it the more."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from monitoring.estimators.posterior import ICC_PRIOR, MEAN_PRIOR
from monitoring.estimators.table import Floats

N_LOGIT, N_RHO, N_DRAWS = 61, 24, 2000
SEED = 7


@dataclass(frozen=True, slots=True)
class Pooled:
    """Posterior of each thing's share.

    Attributes
    ----------
    mean : (n_items,)
    draws : (n_items, N_DRAWS), jointly drawn and the same at every call.
    """

    mean: Floats
    draws: Floats


def pool(alive: ArrayLike, trees: ArrayLike) -> Pooled:
    """Share one beta-binomial among things, its mean and spread integrated over.

    Parameters
    ----------
    alive, trees : (n_items,) effective trees, fractional; a thing without trees gets the peers' distribution.

    Notes
    -----
    Mean ~ Beta(0.7, 0.7), correlation within a thing ~ Beta(1, 4), on a grid in the logit and the root. Given a
    node, a thing's share is Beta(alpha + alive, beta + dead).

    References
    ----------
    Efron & Morris (1975), J. Amer. Statist. Assoc. 70:311, for pooling of this kind (from memory).

    Examples
    --------
    >>> pooled = pool([4, 170, 60, 90], [4, 200, 100, 100])
    >>> bool(pooled.mean[0] < 1), bool(abs(pooled.mean[1] - 0.85) < 0.01)
    (True, True)
    """
    x, n = np.asarray(alive, float), np.asarray(trees, float)
    a, b, log_weight = _nodes()
    kernel = special.betaln(x + a[:, None], n - x + b[:, None]) - special.betaln(a, b)[:, None]
    log_mass = log_weight + kernel.sum(axis=1)
    mass = np.exp(log_mass - log_mass.max())
    mass /= mass.sum()
    shares = (x + a[:, None]) / (n + (a + b)[:, None])
    middles = (np.arange(N_DRAWS) + 0.5) / N_DRAWS
    node = np.minimum(np.searchsorted(np.cumsum(mass), middles), mass.size - 1)
    shuffle = np.random.default_rng(SEED)
    draws = np.stack(
        [
            special.betaincinv(a[node] + living, b[node] + total - living, shuffle.permutation(middles))
            for living, total in zip(x, n, strict=True)
        ]
    )
    return Pooled((mass[:, None] * shares).sum(axis=0), draws)


@lru_cache(maxsize=1)
def _nodes() -> tuple[Floats, Floats, Floats]:
    """Alpha, beta and log prior weight of every grid node."""
    logit = np.linspace(-7, 7, N_LOGIT)
    points, weights = np.polynomial.legendre.leggauss(N_RHO)
    root = (points + 1) / 2
    rho = root**2
    log_rho = np.log(weights * root) + special.xlog1py(ICC_PRIOR[1] - 1, -rho)
    log_mean = MEAN_PRIOR[0] * special.log_expit(logit) + MEAN_PRIOR[1] * special.log_expit(-logit)
    size = 1 / rho - 1
    a = special.expit(logit)[:, None] * size
    b = special.expit(-logit)[:, None] * size
    return a.ravel(), b.ravel(), (log_mean[:, None] + log_rho).ravel()

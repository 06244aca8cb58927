"""Partial pooling: each thing's share drawn towards its peers, the less is known of it the more."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from monitoring.estimators.posterior import ICC_PRIOR, MEAN_PRIOR
from monitoring.estimators.table import Floats

N_LOGIT, N_RHO = 61, 24
LOGIT_END = 7.0
RESOLVED = 1.3  # the posterior spreads over at least so many steps of the grid, or the grid is narrowed
NARROWINGS = 4
NEGLIGIBLE = 1e-7  # mass of nodes left out, of the greatest
NEWTON_STEPS, LONGEST_STEP = 12, 1.5


@dataclass(frozen=True, slots=True)
class Pooled:
    """Posterior of each thing's share: a mixture of Beta(alpha, beta), the same `mass` for all.

    Attributes
    ----------
    mean : (n_items,)
    alpha, beta : (n_nodes, n_items)
    mass : (n_nodes,), sums to 1.
    """

    mean: Floats
    alpha: Floats
    beta: Floats
    mass: Floats

    def quantile(self, probability: float) -> Floats:
        """`(n_items,)` quantiles, by Newton's steps on the logit scale from a Beta of the same mean and variance."""
        mass = self.mass[:, None]
        size = self.alpha + self.beta
        square = (mass * self.alpha * (self.alpha + 1) / (size * (size + 1))).sum(axis=0)
        like = self.mean * (1 - self.mean) / np.maximum(square - self.mean**2, 1e-12) - 1
        start = special.betaincinv(self.mean * like, (1 - self.mean) * like, probability)
        at = special.logit(np.clip(start, 1e-9, 1 - 1e-9))
        scale = special.betaln(self.alpha, self.beta)
        for _ in range(NEWTON_STEPS):
            share = special.expit(at)
            below = (mass * special.betainc(self.alpha, self.beta, share)).sum(axis=0)
            log_density = self.alpha * special.log_expit(at) + self.beta * special.log_expit(-at) - scale
            step = (below - probability) / np.maximum((mass * np.exp(log_density)).sum(axis=0), 1e-300)
            at -= np.clip(step, -LONGEST_STEP, LONGEST_STEP)
            if np.abs(step).max(initial=0) < 1e-9:
                break
        return special.expit(at)


def pool(alive: ArrayLike, trees: ArrayLike) -> Pooled:
    """Share one beta-binomial among things, its mean and spread integrated over.

    Parameters
    ----------
    alive, trees : (n_items,) effective trees, fractional; a thing without trees gets the peers' distribution.

    Notes
    -----
    Mean ~ Beta(0.7, 0.7), correlation within a thing ~ Beta(1, 4), on a grid in the logit and the root that is
    narrowed until it resolves the posterior. Given a node, a thing's share is Beta(alpha + alive, beta + dead).

    References
    ----------
    Efron & Morris (1975), J. Amer. Statist. Assoc. 70:311, for pooling of this kind (from memory).

    Examples
    --------
    >>> pooled = pool([4, 170, 60, 90], [4, 200, 100, 100])
    >>> bool(pooled.mean[0] < 1), bool(abs(pooled.mean[1] - 0.85) < 0.01)
    (True, True)
    >>> bool(pooled.quantile(0.025)[1] < pooled.mean[1] < pooled.quantile(0.975)[1])
    True
    """
    x, n = np.asarray(alive, float), np.asarray(trees, float)
    grid = _whole_grid()
    mass = _mass(grid, x, n)
    for _ in range(NARROWINGS):
        if grid.resolves(mass):
            break
        grid = grid.narrowed(mass)
        mass = _mass(grid, x, n)
    kept = mass > NEGLIGIBLE * mass.max()
    mass = mass[kept] / mass[kept].sum()
    alpha, beta = x + grid.alpha[kept, None], n - x + grid.beta[kept, None]
    return Pooled((mass[:, None] * alpha / (alpha + beta)).sum(axis=0), alpha, beta, mass)


def _mass(grid: "_Grid", x: Floats, n: Floats) -> Floats:
    a, b = grid.alpha[:, None], grid.beta[:, None]
    kernel = special.betaln(x + a, n - x + b) - special.betaln(a, b)
    log_mass = grid.log_weight + kernel.sum(axis=1)
    mass = np.exp(log_mass - log_mass.max())
    return mass / mass.sum()


@dataclass(frozen=True, slots=True)
class _Grid:
    """Even steps in the logit of the mean, Gauss–Legendre nodes in the root of the correlation."""

    logit: tuple[float, float]
    root: tuple[float, float]
    alpha: Floats
    beta: Floats
    log_weight: Floats

    @classmethod
    def over(cls, logit: tuple[float, float], root: tuple[float, float]) -> "_Grid":
        at = np.linspace(*logit, N_LOGIT)
        points, weights = np.polynomial.legendre.leggauss(N_RHO)
        roots = root[0] + (root[1] - root[0]) * (points + 1) / 2
        log_rho = np.log(weights * roots) + special.xlog1py(ICC_PRIOR[1] - 1, -(roots**2))
        log_mean = MEAN_PRIOR[0] * special.log_expit(at) + MEAN_PRIOR[1] * special.log_expit(-at)
        size = 1 / roots**2 - 1
        a, b = special.expit(at)[:, None] * size, special.expit(-at)[:, None] * size
        return cls(logit, root, a.ravel(), b.ravel(), (log_mean[:, None] + log_rho).ravel())

    def resolves(self, mass: Floats) -> bool:
        return all(spread >= RESOLVED * step for _, spread, step in self._margins(mass))

    def narrowed(self, mass: Floats) -> "_Grid":
        (at, spread, step), (root, root_spread, root_step) = self._margins(mass)
        reach, root_reach = max(6 * spread, 3 * step), max(6 * root_spread, 3 * root_step)
        return _Grid.over(
            (max(at - reach, -LOGIT_END), min(at + reach, LOGIT_END)),
            (max(root - root_reach, 0.0), min(root + root_reach, 1.0)),
        )

    def _margins(self, mass: Floats) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
        """Mean, spread and step of the logit, and of the root."""
        table = mass.reshape(N_LOGIT, N_RHO)
        at = np.linspace(*self.logit, N_LOGIT)
        root = np.sqrt(1 / (1 + self.alpha + self.beta)[:N_RHO])
        widest = np.pi / 2 * (self.root[1] - self.root[0]) / N_RHO
        return (
            (*_moments(at, table.sum(axis=1)), float(at[1] - at[0])),
            (*_moments(root, table.sum(axis=0)), widest),
        )


def _moments(nodes: Floats, mass: Floats) -> tuple[float, float]:
    mean = float((nodes * mass).sum())
    return mean, float(np.sqrt(((nodes - mean) ** 2 * mass).sum()))


@lru_cache(maxsize=1)
def _whole_grid() -> _Grid:
    return _Grid.over((-LOGIT_END, LOGIT_END), (0.0, 1.0))

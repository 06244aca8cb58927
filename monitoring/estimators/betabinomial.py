"""Beta-binomial: fitted to groups that differ, used to shrink small groups and to order enough trees."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, special

from monitoring.estimators.table import Floats
from projects.calc.survivors import at_least, probabilities, tail_probabilities

__all__ = [
    "BetaBinomialFit",
    "at_least",
    "fit",
    "log_likelihood",
    "moments",
    "probabilities",
    "tail_probabilities",
]

LARGEST_SIZE = 1e6  # alpha + beta at which groups count as alike


@dataclass(frozen=True, slots=True)
class BetaBinomialFit:
    """How shares differ between groups: Beta(alpha, beta), mean `mu`, correlation `rho` = 1/(alpha+beta+1)."""

    alpha: float
    beta: float
    log_likelihood: float

    @property
    def mu(self) -> float:
        """Mean share."""
        return self.alpha / (self.alpha + self.beta)

    @property
    def rho(self) -> float:
        """Correlation within a group."""
        return 1 / (self.alpha + self.beta + 1)

    def shrunk(self, alive: ArrayLike, total: ArrayLike) -> Floats:
        """Share of each group drawn towards the mean, the more so the fewer trees it has."""
        return (np.asarray(alive, float) + self.alpha) / (np.asarray(total, float) + self.alpha + self.beta)

    def quantile(self, alive: ArrayLike, total: ArrayLike, probability: float) -> Floats:
        """Quantile of each group's share given its counts."""
        x, n = np.asarray(alive, float), np.asarray(total, float)
        return special.betaincinv(x + self.alpha, n - x + self.beta, probability)


def log_likelihood(alive: Floats, total: Floats, alpha: float, beta: float) -> float:
    """Log likelihood of groups, binomial coefficients included; counts may be fractional."""
    coefficient = -special.betaln(alive + 1, total - alive + 1) - np.log(total + 1)
    kernel = special.betaln(alive + alpha, total - alive + beta) - special.betaln(alpha, beta)
    return float((coefficient + kernel).sum())


def moments(alive: ArrayLike, total: ArrayLike) -> tuple[float, float]:
    """Mean and correlation by moments, groups weighted by size.

    References
    ----------
    Kleinman (1973), J. Amer. Statist. Assoc. 68:46.
    """
    x, n = np.asarray(alive, float), np.asarray(total, float)
    whole = n.sum()
    mu = x.sum() / whole
    spread, left = (n * (x / n - mu) ** 2).sum(), 1 - n / whole
    binomial = mu * (1 - mu)
    denominator = binomial * ((n * left).sum() - left.sum())
    rho = (spread - binomial * left.sum()) / denominator if denominator > 0 else 0.0
    return float(mu), float(rho)


def fit(alive: ArrayLike, total: ArrayLike) -> BetaBinomialFit:
    """Maximum-likelihood beta-binomial over groups.

    Parameters
    ----------
    alive, total : (n_groups,) array_like
        Trees alive and trees counted in each group; may be effective (fractional) numbers.

    Raises
    ------
    ValueError
        If there is no group with trees, or a count lies outside 0..total.

    Notes
    -----
    Groups that do not differ more than chance (rho at 0 or below) end in full pooling: alpha + beta very large.

    Examples
    --------
    >>> found = fit([18, 20, 15, 22, 9, 17, 25, 14], [20, 22, 18, 24, 16, 19, 25, 20])
    >>> round(found.mu, 4), round(found.rho, 4)
    (0.8448, 0.0771)
    """
    x, n = np.asarray(alive, float), np.asarray(total, float)
    x, n = x[n > 0], n[n > 0]
    if not n.size or ((x < 0) | (x > n)).any():
        raise ValueError("groups need trees, with alive between 0 and total.")
    mu, rho = moments(x, n)
    mu = float(np.clip(mu, 0.5 / n.sum(), 1 - 0.5 / n.sum()))
    start = np.array([special.logit(mu), np.log(1 / np.clip(rho, 1e-4, 0.9) - 1)])

    def loss(parameters: Floats) -> float:
        mean, size = special.expit(parameters[0]), np.exp(parameters[1])
        return -log_likelihood(x, n, mean * size, (1 - mean) * size)

    bounds = [(-12.0, 12.0), (np.log(1e-3), np.log(LARGEST_SIZE))]
    found = optimize.minimize(
        loss, start, method="L-BFGS-B", bounds=bounds, options={"ftol": 1e-15, "gtol": 1e-9}
    )
    found = optimize.minimize(
        loss, found.x, method="Nelder-Mead", bounds=bounds, options={"xatol": 1e-10, "fatol": 1e-12}
    )
    mean, size = float(special.expit(found.x[0])), float(np.exp(found.x[1]))
    return BetaBinomialFit(mean * size, (1 - mean) * size, -float(found.fun))

"""Beta-binomial: fitted to groups that differ, used to shrink small groups and to order enough trees."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, special

from monitoring.estimators.table import Floats

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


def at_least(needed: int, planted: int, alpha: float, beta: float) -> float:
    """Chance that at least `needed` of `planted` trees live when survival ~ Beta(alpha, beta).

    `beta` infinite with `alpha` a share stands for known survival (binomial).

    >>> round(at_least(1, 1, 8, 2), 3)
    0.8
    """
    if needed <= 0:
        return 1.0
    if needed > planted:
        return 0.0
    return float(tail_probabilities(planted, alpha, beta)[needed])


def probabilities(planted: int, alpha: float, beta: float) -> Floats:
    """`(planted + 1,)`: chance that exactly k trees live; `beta` infinite as in `at_least`.

    >>> probabilities(2, 1, 1).round(3).tolist()
    [0.333, 0.333, 0.333]
    """
    k = np.arange(planted + 1)
    log_choose = -special.betaln(k + 1, planted - k + 1) - np.log(planted + 1)
    if np.isinf(beta):
        return np.exp(log_choose + special.xlogy(k, alpha) + special.xlog1py(planted - k, -alpha))
    return np.exp(log_choose + special.betaln(k + alpha, planted - k + beta) - special.betaln(alpha, beta))


def tail_probabilities(planted: int, alpha: float, beta: float) -> Floats:
    """`(planted + 1,)`: chance that at least k trees live, for every k, by summing the exact probabilities."""
    k = np.arange(planted + 1)
    if np.isinf(beta):
        return np.where(k > 0, special.bdtrc(k - 1, planted, alpha), 1.0)
    share = probabilities(planted, alpha, beta)
    above = np.cumsum(share[::-1])[::-1]
    below = np.concatenate([[0.0], np.cumsum(share)[:-1]])
    return np.where(above < 0.5, above, 1 - below)  # the smaller tail keeps its digits

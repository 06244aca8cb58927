"""What the next planting of a stock may do, foreseen from what past plantings of it did."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from monitoring.estimators.posterior import ICC_PRIOR, MEAN_PRIOR
from monitoring.estimators.table import Floats

N_LOGIT, SEARCH, N_SPREAD, N_MEAN = 61, 24, 10, 9
LOGIT_RANGE = 9.0
LEAST_MASS = 2e-3  # spreads less likely than this are left out
ROOM = 200  # steps in which quantiles are sought


@dataclass(frozen=True, slots=True)
class ReplacementSurvival:
    """Survival of the trees to be planted, from planting to the check: a Beta, or several with weights.

    Attributes
    ----------
    alpha, beta : one number, or one for each part. An infinite `beta` with `alpha` a share is survival known
        exactly.
    weight : share of each part; they add up to 1.
    """

    alpha: float | tuple[float, ...]
    beta: float | tuple[float, ...]
    weight: tuple[float, ...] = (1.0,)

    def parts(self) -> tuple[Floats, Floats, Floats]:
        """Alpha, beta and weight as arrays, each (n_parts,)."""
        return (
            np.atleast_1d(np.asarray(self.alpha, float)),
            np.atleast_1d(np.asarray(self.beta, float)),
            np.asarray(self.weight, float),
        )

    def _moments(self) -> tuple[Floats, Floats, Floats]:
        """Mean, within-part variance and weight of each part."""
        alpha, beta, weight = self.parts()
        known = np.isinf(beta)
        size = np.where(known, 1.0, alpha + np.where(known, 0.0, beta))
        mean = np.where(known, alpha, alpha / size)
        return mean, np.where(known, 0.0, mean * (1 - mean) / (size + 1)), weight

    @property
    def mean(self) -> float:
        """Expected survival."""
        mean, _variance, weight = self._moments()
        return float((mean * weight).sum())

    @property
    def correlation(self) -> float:
        """Correlation of the fates of two trees of one planting; 0 where survival is known exactly."""
        mean, variance, weight = self._moments()
        whole = float((mean * weight).sum())
        spread = float((weight * (variance + (mean - whole) ** 2)).sum())
        return spread / (whole * (1 - whole)) if 0 < whole < 1 else 0.0

    def quantile(self, probability: float) -> float:
        """Survival that the planting falls below with a given probability."""
        alpha, beta, weight = self.parts()
        if np.isinf(beta).any():
            return self.mean
        low, high = 0.0, 1.0
        for _ in range(ROOM):
            middle = (low + high) / 2
            below = float((weight * special.betainc(alpha, beta, middle)).sum())
            low, high = (middle, high) if below < probability else (low, middle)
            if high - low < 1e-13:
                break
        return (low + high) / 2


def survival_of_groups(
    alive: ArrayLike, trees: ArrayLike, prior: ReplacementSurvival | None = None
) -> ReplacementSurvival:
    """Survival of one more planting like these: it may differ from them as they differ from each other.

    Parameters
    ----------
    alive, trees : (n_groups,) array_like
        Trees alive and planted in each past planting (cohort and block), carried to the check; effective
        (fractional) numbers where trees of a plot share a fate.
    prior : ReplacementSurvival, optional
        What was expected, a single Beta: the answer where nothing was seen, else what is believed of the mean.
        Leave it out where enough plantings speak for themselves.

    Raises
    ------
    ValueError
        If a count lies outside 0..trees, or nothing was seen and nothing is expected.

    Notes
    -----
    Past plantings are beta-binomial with a common mean and correlation. Both are integrated over, not fixed:
    mean ~ Beta(0.7, 0.7) or the prior, correlation ~ Beta(1, 4), as for plots. With few plantings the answer
    is wide.

    References
    ----------
    Griffiths (1973), Biometrics 29:637; prediction of a new group as in Gelman et al., *Bayesian Data
    Analysis*, ch. 5 (from memory).

    Examples
    --------
    >>> alike = survival_of_groups([80, 82, 78, 81, 79, 80], [100] * 6)
    >>> apart = survival_of_groups([95, 60, 85, 99, 62, 79], [100] * 6)
    >>> round(alike.mean, 2), round(alike.quantile(0.1), 2), round(apart.quantile(0.1), 2)
    (0.8, 0.74, 0.49)
    """
    x, n = np.atleast_1d(np.asarray(alive, float)), np.atleast_1d(np.asarray(trees, float))
    if ((x < 0) | (x > n)).any():
        raise ValueError("alive must lie between 0 and the trees planted in every group.")
    x, n = x[n > 0], n[n > 0]
    if not x.size:
        if prior is None:
            raise ValueError("nothing was seen of such plantings and nothing is expected of them.")
        return prior
    exponents = MEAN_PRIOR if prior is None else (float(prior.parts()[0][0]), float(prior.parts()[1][0]))
    return _parts(*_posterior(x, n, exponents))


def _posterior(x: Floats, n: Floats, exponents: tuple[float, float]) -> tuple[Floats, Floats, Floats]:
    """Logit of the mean, correlation and their joint mass, on a grid narrowed to where the mass lies."""
    low, high, root_low, root_high = -LOGIT_RANGE, LOGIT_RANGE, 0.0, 1.0
    for n_spread in (SEARCH, SEARCH, N_SPREAD):
        logit = np.linspace(low, high, N_LOGIT)
        root, weights = _legendre(root_low, root_high, n_spread)
        mass = _mass(x, n, exponents, logit, root, weights)
        low, high = _window(logit, mass.sum(axis=1), 6, (-LOGIT_RANGE, LOGIT_RANGE))
        root_low, root_high = _window(root, mass.sum(axis=0), 4, (0.0, 1.0))
    return logit, root**2, mass


def _legendre(low: float, high: float, size: int) -> tuple[Floats, Floats]:
    nodes, weights = np.polynomial.legendre.leggauss(size)
    return low + (high - low) * (nodes + 1) / 2, weights


def _window(nodes: Floats, mass: Floats, spreads: float, ends: tuple[float, float]) -> tuple[float, float]:
    """Where the mass lies: so many standard deviations about the mean, and room for what the grid hides."""
    mean = float((mass * nodes).sum())
    reach = spreads * float(np.sqrt((mass * (nodes - mean) ** 2).sum())) + 1.5 * float(np.diff(nodes).max())
    return max(mean - reach, ends[0]), min(mean + reach, ends[1])


def _mass(
    x: Floats, n: Floats, exponents: tuple[float, float], logit: Floats, root: Floats, weights: Floats
) -> Floats:
    """Joint mass of each logit and each square root of the correlation."""
    rho = root**2
    log_rho = np.log(weights * root) + special.xlog1py(ICC_PRIOR[1] - 1, -rho)
    log_mean = exponents[0] * special.log_expit(logit) + exponents[1] * special.log_expit(-logit)
    size = 1 / rho - 1
    a, b = special.expit(logit)[:, None] * size, special.expit(-logit)[:, None] * size
    kernel = special.betaln(x[:, None, None] + a, (n - x)[:, None, None] + b) - special.betaln(a, b)
    log_mass = log_mean[:, None] + log_rho + kernel.sum(axis=0)
    mass = np.exp(log_mass - log_mass.max())
    return mass / mass.sum()


def _parts(logit: Floats, rho: Floats, mass: Floats) -> ReplacementSurvival:
    """Turn the posterior into parts: for each likely correlation, equally likely values of the mean."""
    middles = (np.arange(N_MEAN) + 0.5) / N_MEAN
    alpha, beta, weight = [], [], []
    for column, spread in enumerate(rho):
        share = float(mass[:, column].sum())
        if share < LEAST_MASS:
            continue
        upto = np.cumsum(mass[:, column]) / share - mass[:, column] / (2 * share)
        mean = special.expit(np.interp(middles, upto, logit))
        size = 1 / spread - 1
        alpha.extend(mean * size)
        beta.extend((1 - mean) * size)
        weight.extend([share / N_MEAN] * N_MEAN)
    whole = sum(weight)
    return ReplacementSurvival(
        tuple(map(float, alpha)), tuple(map(float, beta)), tuple(part / whole for part in weight)
    )

"""The headline interval of one block: beta-binomial posterior on a grid, for many blocks at once.

Trees of a plot share soil, planter and frost, so counts follow a beta-binomial with mean survival `mu` and
intra-plot correlation `rho`. Priors: mu ~ Beta(0.7, 0.7), rho ~ Beta(1, 4). Limits are equal-tailed.

Logarithms are rounded to multiples of 2**-26 before they are summed. Every product and sum is then exact in
double precision, so a block gets the same bytes alone, in a batch, and on any number of threads.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from monitoring.estimators.inverse import invert
from monitoring.estimators.table import Floats, Ints

MEAN_PRIOR = (0.7, 0.7)
ICC_PRIOR = (1.0, 4.0)
LOGIT_RANGE = 13.0
N_LOGIT, N_ICC = 168, 26  # nodes of the shared grid
N_LOGIT_FINE, N_ICC_FINE = 64, 24  # nodes of one block's own window, for blocks with much data
RESOLVED = 1.3  # posterior spread must be at least this many steps of the grid
CHUNK = 32  # consecutive counts whose logarithms are tabulated together
BATCH = 128
QUANTUM = 2.0**26


@dataclass(frozen=True, slots=True)
class Posterior:
    """Posterior summaries of `n_domains` blocks.

    Attributes
    ----------
    quantiles : (n_domains, n_probabilities) of survival. [share]
    icc : (n_domains,) posterior mean of the intra-plot correlation.
    """

    quantiles: Floats
    icc: Floats


@dataclass(frozen=True, slots=True)
class _Counts:
    """How many plots of a domain have more than j alive, dead and in all; each (n_domains, n_counts)."""

    alive: Floats
    dead: Floats
    total: Floats

    def rows(self, which: slice | Ints) -> "_Counts":
        return _Counts(self.alive[which], self.dead[which], self.total[which])

    def trimmed(self, index: int) -> "_Counts":
        """One domain, up to its own greatest count, so that no logarithm is taken for counts it has not."""
        most = int(np.count_nonzero(self.total[index]))
        return _Counts(*(column[index : index + 1, :most] for column in (self.alive, self.dead, self.total)))


@dataclass(frozen=True, slots=True)
class _Grid:
    """Nodes: logit of the mean, evenly spaced, and icc with the log weight of prior × quadrature."""

    logit: Floats
    icc: Floats
    log_weight: Floats
    icc_step: float


def posterior_quantiles(
    domain: ArrayLike, alive: ArrayLike, total: ArrayLike, n_domains: int, probabilities: ArrayLike
) -> Posterior:
    """Quantiles of mean survival for many blocks, each from its own plots.

    Parameters
    ----------
    domain, alive, total : (n_plots,) array_like of int
        Which block a plot belongs to, trees alive and trees counted in it, `0 <= alive <= total`.
    n_domains : int
        Number of blocks; every code in `domain` is below it.
    probabilities : (n_probabilities,) array_like of float

    Raises
    ------
    ValueError
        If a count lies outside 0..total.

    References
    ----------
    Griffiths (1973), Biometrics 29:637, for the beta-binomial in plots; Franco, Little, Louis & Slud
    (2019), J. Survey Stat. Methodol. 7:334, for Bayes limits at small numbers of clusters (from memory).

    Examples
    --------
    >>> p = posterior_quantiles([0] * 5, [3, 0, 5, 8, 1], [10, 12, 9, 11, 8], 1, [0.025, 0.975])
    >>> p.quantiles.round(2).tolist()
    [[0.15, 0.59]]
    """
    domain, alive, total = (np.asarray(a, dtype=np.int64) for a in (domain, alive, total))
    if ((alive < 0) | (alive > total)).any():
        raise ValueError("alive must lie between 0 and total in every plot.")
    wanted = np.asarray(probabilities, float)
    counts = _exceedance(domain, alive, total, n_domains)
    quantiles, icc = np.empty((n_domains, wanted.size)), np.empty(n_domains)
    for start in range(0, n_domains, BATCH):
        part = slice(start, min(start + BATCH, n_domains))
        quantiles[part], icc[part] = _summaries(counts.rows(part), wanted)
    return Posterior(quantiles, icc)


def _exceedance(domain: Ints, alive: Ints, total: Ints, n_domains: int) -> _Counts:
    width = int(total.max(initial=0)) + 1

    def above(values: Ints) -> Floats:
        histogram = np.bincount(domain * width + values, minlength=n_domains * width)
        histogram = histogram.reshape(n_domains, width)[:, ::-1]
        return histogram.cumsum(axis=1)[:, ::-1][:, 1:].astype(float)

    return _Counts(above(alive), above(total - alive), above(total))


def _summaries(counts: _Counts, wanted: Floats) -> tuple[Floats, Floats]:
    """Quantiles on the shared grid; blocks it does not resolve are worked again in their own window."""
    grid = _shared_grid()
    density, by_icc = _posterior(counts, grid, shared=True)
    quantiles = invert(grid.logit, density, wanted)
    icc = (by_icc * grid.icc).sum(axis=1)
    spread, icc_spread = _spreads(grid, density, by_icc)
    coarse = (spread < RESOLVED * _step(grid)) | (icc_spread < RESOLVED * grid.icc_step)
    narrow = np.flatnonzero(coarse)
    if narrow.size:
        found = [
            _windowed(counts.trimmed(index), grid, density[index], by_icc[index])
            for index in map(int, narrow)
        ]
        nodes, densities = (np.stack(part) for part in list(zip(*found, strict=True))[:2])
        quantiles[narrow] = invert(nodes, densities, wanted)
        icc[narrow] = [one[2] for one in found]
    return quantiles, icc


def _windowed(counts: _Counts, grid: _Grid, density: Floats, by_icc: Floats) -> tuple[Floats, Floats, float]:
    """One block on a grid that is narrowed around its posterior until the grid resolves it.

    Gives the nodes and the mass at them, (n_logit,) each, and the mean of the icc.
    """
    for _ in range(6):
        grid = _window_grid(grid, density, by_icc)
        densities, by_iccs = _posterior(counts, grid, shared=False)
        density, by_icc = densities[0], by_iccs[0]
        spread, icc_spread = _spreads(grid, densities, by_iccs)
        if spread[0] >= RESOLVED * _step(grid) and icc_spread[0] >= RESOLVED * grid.icc_step:
            break
    return grid.logit, density, float((by_icc * grid.icc).sum())


def _step(grid: _Grid) -> float:
    return float(grid.logit[1] - grid.logit[0])


def _spreads(grid: _Grid, density: Floats, by_icc: Floats) -> tuple[Floats, Floats]:
    """Standard deviations of the logit of the mean, and of the square root of the icc."""
    return _spread(grid.logit, density), _spread(np.sqrt(grid.icc), by_icc)


def _spread(nodes: Floats, share: Floats) -> Floats:
    mean = (share * nodes).sum(axis=1, keepdims=True)
    return np.sqrt((share * (nodes - mean) ** 2).sum(axis=1))


def _window_grid(grid: _Grid, density: Floats, by_icc: Floats) -> _Grid:
    low, high = _window(grid.logit, density, 6.0, 3 * _step(grid))
    root_low, root_high = _window(np.sqrt(grid.icc), by_icc, 5.0, 3 * grid.icc_step)
    return _make_grid(
        max(low, -LOGIT_RANGE), min(high, LOGIT_RANGE), N_LOGIT_FINE, max(root_low, 0.0), min(root_high, 1.0),
        N_ICC_FINE,
    )  # fmt: skip


def _window(nodes: Floats, share: Floats, spreads: float, least: float) -> tuple[float, float]:
    mean = float((share * nodes).sum())
    reach = max(spreads * float(_spread(nodes, share[None])[0]), least)
    return mean - reach, mean + reach


@lru_cache(maxsize=1)
def _shared_grid() -> _Grid:
    return _make_grid(-LOGIT_RANGE, LOGIT_RANGE, N_LOGIT, 0.0, 1.0, N_ICC)


def _make_grid(low: float, high: float, n_logit: int, root_low: float, root_high: float, n_icc: int) -> _Grid:
    """Even nodes in the logit; Gauss–Legendre nodes in the root of the icc, where the posterior is smooth."""
    logit = np.linspace(low, high, n_logit)
    nodes, weights = _legendre(n_icc)
    half = (root_high - root_low) / 2
    root = root_low + half * (nodes + 1)
    icc = root**2
    log_icc = np.log(weights * half * 2 * root)
    log_icc += special.xlogy(ICC_PRIOR[0] - 1, icc) + special.xlog1py(ICC_PRIOR[1] - 1, -icc)
    # density of the logit: the Jacobian mu(1 - mu) raises both exponents of the Beta prior by one
    log_mean = MEAN_PRIOR[0] * special.log_expit(logit) + MEAN_PRIOR[1] * special.log_expit(-logit)
    step = half * np.pi / (2 * n_icc) * 2  # widest gap between neighbouring nodes, about
    return _Grid(logit, icc, log_mean[:, None] + log_icc[None, :], step)


@lru_cache(maxsize=4)
def _legendre(n_nodes: int) -> tuple[Floats, Floats]:
    nodes, weights = np.polynomial.legendre.leggauss(n_nodes)
    return nodes, weights


def _log_tables(grid: _Grid, first: int, length: int = CHUNK) -> tuple[Floats, Floats, Floats]:
    """Quantised logs of rising factors: alive and dead (length, nodes), total (length, n_icc)."""
    counts = np.arange(first, first + length)[:, None, None] * grid.icc
    alive = special.expit(grid.logit)[:, None] * (1 - grid.icc)
    dead = special.expit(-grid.logit)[:, None] * (1 - grid.icc)
    return (
        _quantised(np.log(alive + counts)).reshape(length, -1),
        _quantised(np.log(dead + counts)).reshape(length, -1),
        _quantised(np.log((1 - grid.icc) + counts[:, 0, :])),
    )


@lru_cache(maxsize=4)
def _shared_tables(first: int) -> tuple[Floats, Floats, Floats]:
    return _log_tables(_shared_grid(), first)


def _quantised(values: Floats) -> Floats:
    return np.rint(values * QUANTUM) / QUANTUM


def _posterior(counts: _Counts, grid: _Grid, *, shared: bool) -> tuple[Floats, Floats]:
    """Normalised mass over the logit nodes (n, n_logit) and over the icc nodes (n, n_icc)."""
    n_domains, width = counts.total.shape
    shape = (n_domains, *grid.log_weight.shape)
    joint = np.zeros((n_domains, grid.log_weight.size))
    whole = np.zeros((n_domains, grid.icc.size))
    for first in range(0, width, CHUNK):
        tables = _shared_tables(first) if shared else _log_tables(grid, first, min(CHUNK, width - first))
        _add_chunk(joint, whole, counts, tables, first)
    log_mass = joint.reshape(shape) - whole[:, None, :] + grid.log_weight
    mass = np.exp(log_mass - log_mass.max(axis=(1, 2), keepdims=True))
    by_logit, by_icc = mass.sum(axis=2), mass.sum(axis=1)
    return by_logit / by_logit.sum(axis=1, keepdims=True), by_icc / by_icc.sum(axis=1, keepdims=True)


def _add_chunk(joint: Floats, whole: Floats, counts: _Counts, tables: tuple[Floats, ...], first: int) -> None:
    part = slice(first, first + CHUNK)
    for target, column, table in (
        (joint, counts.alive, tables[0]), (joint, counts.dead, tables[1]), (whole, counts.total, tables[2]),
    ):  # fmt: skip
        present = column[:, part]
        used = int(present.any(axis=0).sum())  # counts fall with j, so the used ones come first
        if used:
            target += present[:, :used] @ table[:used]

"""Chances of reaching a number of trees, exactly: the tails of beta-binomial sums, and the smallest planting."""

import math
from collections.abc import Callable

import numpy as np
from scipy import special

from monitoring.estimators.betabinomial import probabilities
from monitoring.estimators.planting_survival import ReplacementSurvival
from monitoring.estimators.table import Floats

OUT_OF_REACH = "assurance_out_of_reach"
TIMES_TOO_MANY = 60  # more than so many times the expected number is no advice
FEW = 64  # below this sums are made term by term, and tables start with so many entries


class Survivors:
    """How many of n planted trees live, for any n; logarithms of factorials are tabulated once."""

    def __init__(self, survival: ReplacementSurvival) -> None:
        self.alpha, self.beta, self.weight = survival.parts()
        self.known = bool(np.isinf(self.beta).any())
        self._grow(FEW)

    def _grow(self, size: int) -> None:
        """Tables of the log gamma function up to `size` trees."""
        k = np.arange(size + 1)
        self.size, self.factorial = size, special.gammaln(k + 1)
        if not self.known:
            self.living = special.gammaln(k + self.alpha[:, None])
            self.dead = special.gammaln(k + self.beta[:, None])

    def probabilities(self, planted: int) -> Floats:
        """Chance that exactly k live, for k from 0 to `planted`; (planted + 1,)."""
        if self.known:
            return probabilities(planted, float(self.alpha[0]), math.inf)
        if planted > self.size:
            self._grow(max(planted, 2 * self.size))
        n, a, b = planted, self.alpha, self.beta
        constant = special.gammaln(n + 1) - special.gammaln(n + a + b) - special.betaln(a, b)
        choose = self.factorial[: n + 1] + self.factorial[n::-1]
        found = np.zeros(n + 1)
        for part in range(a.size):
            log_share = self.living[part, : n + 1] + self.dead[part, n::-1] - choose + constant[part]
            found += self.weight[part] * np.exp(log_share)
        return found

    def at_least(self, planted: int) -> Floats:
        """Chance that k or more live, for k from 0 to `planted`; the smaller tail keeps its digits."""
        share = self.probabilities(planted)
        above = np.cumsum(share[::-1])[::-1]
        below = np.concatenate([[0.0], np.cumsum(share)[:-1]])
        return np.where(above < 0.5, above, 1 - below)


def together(one: Floats, other: Floats) -> Floats:
    """Probabilities of a sum of two independent counts.

    >>> together(np.array([0.5, 0.5]), np.array([0.0, 1.0])).tolist()
    [0.0, 0.5, 0.5]
    """
    if min(one.size, other.size) <= FEW:
        return np.convolve(one, other)
    size = one.size + other.size - 1
    return np.maximum(np.fft.irfft(np.fft.rfft(one, size) * np.fft.rfft(other, size), size), 0.0)


def chance_of(target: int, living: Floats, survivors: Survivors) -> Callable[[int], float]:
    """Chance of reaching a target with n planted, as a function of n.

    Parameters
    ----------
    target : trees wanted.
    living : (n_living + 1,) probabilities of the number alive without planting.
    survivors : what of the planting lives.
    """
    enough = float(living[max(target, 0) :].sum())
    gaps = np.concatenate([[0.0], living[: max(target, 0)][::-1]])  # by how many are missing
    if living.size < target:
        gaps = np.concatenate([[0.0], np.zeros(target - living.size), living[::-1]])

    def chance(planted: int) -> float:
        reach = min(planted + 1, gaps.size)
        return enough + float((gaps[:reach] * survivors.at_least(planted)[:reach]).sum())

    return chance


def smallest(chance: Callable[[int], float], expected: float, assurance: float) -> tuple[int, float]:
    """Double, then halve: the chance never falls with the number planted.

    Raises
    ------
    OverflowError
        If not even `TIMES_TOO_MANY` times the expected number gives the assurance.
    """
    low, high, most = -1, max(math.ceil(expected), 0), max(TIMES_TOO_MANY * expected, 1000)
    while chance(high) < assurance:
        low, high = high, max(2 * high, 16)
        if high > most:
            raise OverflowError(OUT_OF_REACH)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if chance(middle) >= assurance else (middle, high)
    return high, chance(high)

"""How many of some planted trees live, exactly: beta-binomial chances, their sums, the smallest number."""

import heapq
import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft, special

Floats = NDArray[np.float64]

OUT_OF_REACH = "assurance_out_of_reach"
TIMES_TOO_MANY = 60  # more than so many times the expected number is no advice
FEW = 64  # below this sums are made term by term, and tables start with so many entries


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
    return tails_of(probabilities(planted, alpha, beta))


def tails_of(share: Floats) -> Floats:
    """Chance of k or more from the chances of exactly k; the smaller tail keeps its digits.

    >>> tails_of(np.array([0.25, 0.5, 0.25])).tolist()
    [1.0, 0.75, 0.25]
    """
    above = np.cumsum(share[::-1])[::-1]
    below = np.concatenate([[0.0], np.cumsum(share)[:-1]])
    return np.where(above < 0.5, above, 1 - below)


class Survivors:
    """How many of n planted trees live, for any n; logarithms of factorials are tabulated once.

    Parameters
    ----------
    alpha, beta, weight : (n_parts,) a mixture of Betas; an infinite `beta` with `alpha` a share is survival
        known exactly.
    """

    def __init__(self, alpha: ArrayLike, beta: ArrayLike, weight: ArrayLike = (1.0,)) -> None:
        self.alpha, self.beta, self.weight = (
            np.atleast_1d(np.asarray(x, float)) for x in (alpha, beta, weight)
        )
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
        """Chance that k or more live, for k from 0 to `planted`."""
        return tails_of(self.probabilities(planted))


def together(one: Floats, other: Floats) -> Floats:
    """Probabilities of a sum of two independent counts.

    >>> together(np.array([0.5, 0.5]), np.array([0.0, 1.0])).tolist()
    [0.0, 0.5, 0.5]
    """
    if min(one.size, other.size) <= FEW:
        return np.convolve(one, other)
    size = one.size + other.size - 1
    fast = fft.next_fast_len(size, real=True)
    return np.maximum(fft.irfft(fft.rfft(one, fast) * fft.rfft(other, fast), fast)[:size], 0.0)


def all_together(parts: Sequence[Floats]) -> Floats:
    """Probabilities of a sum of several independent counts, the shortest two joined first; none of them: surely 0.

    >>> all_together([np.array([0.5, 0.5])] * 2).tolist(), all_together([]).tolist()
    ([0.25, 0.5, 0.25], [1.0])
    """
    left = [(part.size, number, part) for number, part in enumerate(parts)]
    heapq.heapify(left)
    for number in range(len(left), 2 * len(left) - 1):
        found = together(heapq.heappop(left)[2], heapq.heappop(left)[2])
        heapq.heappush(left, (found.size, number, found))
    return left[0][2] if left else np.ones(1)


def smallest(chance: Callable[[int], float], expected: float, assurance: float) -> tuple[int, float]:
    """The smallest number whose chance is enough: double, then close in; the chance never falls with the number.

    Chances run nearly straight on the scale of normal quantiles, so that a line between the ends tells where to look;
    the number looked at is set a little to the other side of it, so that both ends close in. Every third look halves.

    Raises
    ------
    OverflowError
        If not even `TIMES_TOO_MANY` times the expected number gives the assurance.
    """
    low, high, most = -1, max(math.ceil(expected), 0), max(TIMES_TOO_MANY * expected, 1000)
    at_low, at_high = 0.0, chance(high)
    while at_high < assurance:
        low, at_low, high = high, at_high, max(2 * high, 16)
        if high > most:
            raise OverflowError(OUT_OF_REACH)
        at_high = chance(high)
    looks, aside = 0, 1
    while high - low > 1:
        looks += 1
        middle = (low + high) // 2
        ends = special.ndtri([at_low, assurance, at_high])
        if looks % 3 and np.isfinite(ends).all() and ends[2] > ends[0]:
            straight = low + (high - low) * (ends[1] - ends[0]) / (ends[2] - ends[0])
            middle = min(max(round(straight) + aside, low + 1), high - 1)
        found = chance(middle)
        if found >= assurance:
            high, at_high, aside = middle, found, -abs(aside) * 2
        else:
            low, at_low, aside = middle, found, abs(aside) * 2
        if looks % 3 == 0:
            aside = 1 if aside > 0 else -1
    return high, at_high

"""Random numbers that stay the same for ever, so that a draw can be made again years later.

The generator is Philox4x64-10, a published counter-based one, read as raw 64-bit integers, which numpy keeps
unchanged between releases (its distributions it may change). Everything made of them is made here. A test holds
them against a second Philox written out in whole numbers.
"""

import numpy as np

from monitoring.estimators.table import Floats, Ints

# What a stream of numbers is for: streams of one seed do not depend on each other.
POINTS, GRID, DUELS, SPARES, LIST = 1, 2, 3, 4, 5
MOST_SEED = 2**63 - 1


class DrawNumbers:
    """Uniform numbers of one seed and purpose.

    Parameters
    ----------
    seed : 0 to 2⁶³ − 1.
    purpose : one of the codes above.

    References
    ----------
    Salmon, Moraes, Dror & Shaw (2011), Parallel random numbers: as easy as 1, 2, 3, SC'11 (from memory).

    Examples
    --------
    >>> DrawNumbers(7, POINTS).uniform(2).round(6).tolist() == DrawNumbers(7, POINTS).uniform(2).round(6).tolist()
    True
    """

    def __init__(self, seed: int, purpose: int) -> None:
        if not 0 <= seed <= MOST_SEED:
            raise ValueError("seed must be a whole number from 0 to 2^63 - 1.")
        self._philox = np.random.Philox(key=seed + (purpose << 64))

    def uniform(self, size: int) -> Floats:
        """Numbers in [0, 1): the upper 53 bits of each integer over 2⁵³."""
        raw = self._philox.random_raw(size) >> np.uint64(11)
        return raw.astype(np.float64) * 2.0**-53

    def one(self) -> float:
        """One number in [0, 1)."""
        return float(self.uniform(1)[0])

    def shuffled(self, n: int) -> Ints:
        """The numbers 0 to n − 1 in random order: sorted by a uniform number each."""
        return np.argsort(self.uniform(n), kind="stable").astype(np.int64)

"""How many trees of a mix to plant so that enough live, expected and assured; and how many of them to order.

The living of a mix are a sum of independent beta-binomials, one for each species and stock type, exact by
convolution. A season that is bad for all of them at once is not in it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import optimize, special

from projects.calc.survivors import Floats, Survivors, all_together, smallest, tails_of

MOST = 2_000_000  # more trees than anybody plants in one block
LEAST_WIDTH = 1e-4  # of the limits; closer ones are survival known exactly
LARGEST_SIZE, LEAST_SIZE = 1e8, 0.05  # of alive + dead; above it survival is known exactly
KNOWN = math.inf  # as `dead`: survival is known exactly and `alive` is the share


@dataclass(frozen=True, slots=True)
class Kind:
    """One species in one stock type of a block's mix.

    Attributes
    ----------
    planted : trees put in the ground. [trees]
    alive, dead : the Beta of its survival to the check, in trees; `dead` infinite: `alive` is the share.
    """

    planted: int
    alive: float
    dead: float

    @property
    def mean(self) -> float:
        """Expected share alive at the check."""
        return self.alive if math.isinf(self.dead) else self.alive / (self.alive + self.dead)

    def as_if_known(self) -> "Kind":
        """The same with its survival known to be the mean."""
        return Kind(self.planted, self.mean, KNOWN)


@dataclass(frozen=True, slots=True)
class Assured:
    """What to plant of a mix, its proportions kept.

    Attributes
    ----------
    target : living trees wanted. [trees]
    living : living trees expected of the mix as it is.
    chance : of reaching the target with the mix as it is.
    n_expected : trees that reach it on average: about as often too few as enough.
    n_if_known : trees that reach it with the assurance if each survival were known to be its mean.
    n_assured : trees that reach it with the assurance, as survival is known today.
    quantities : `n_assured` by kind.
    chance_assured : of reaching it with these.
    """

    target: int
    living: float
    chance: float
    n_expected: int
    n_if_known: int
    n_assured: int
    quantities: tuple[int, ...]
    chance_assured: float

    @property
    def for_uncertain_survival(self) -> int:
        """Trees of the difference that are planted because survival is not known better."""
        return self.n_assured - self.n_if_known

    @property
    def for_chance(self) -> int:
        """Trees of the difference that cover the luck of single trees."""
        return self.n_if_known - self.n_expected


def kind_of(planted: int, mean: float, low: float, high: float, level: float = 0.95) -> Kind:
    """A kind from what a plan says of its survival: the Beta of that mean whose limits lie as far apart.

    Limits that meet, or a mean of 0 or 1, are survival known exactly.

    Raises
    ------
    ValueError
        If the shares are not in order within 0..1.

    Examples
    --------
    >>> found = kind_of(100, 0.8, *special.betaincinv(24, 6, [0.025, 0.975]))
    >>> round(found.alive, 6), round(found.dead, 6)
    (24.0, 6.0)
    """
    return Kind(planted, *_beta_of(mean, low, high, level))


@lru_cache(maxsize=4096)  # a page asks for a few survivals in every block anew
def _beta_of(mean: float, low: float, high: float, level: float) -> tuple[float, float]:
    """Trees alive and dead of the Beta; `KNOWN` as dead where survival is known exactly."""
    if not 0 <= low <= mean <= high <= 1:
        raise ValueError("limits and mean must be in order between 0 and 1.")
    if not 0 < mean < 1 or high - low < LEAST_WIDTH:
        return mean, KNOWN
    tails = np.array([(1 - level) / 2, (1 + level) / 2])

    def excess(log_size: float) -> float:
        size = math.exp(log_size)
        ends = special.betaincinv(mean * size, (1 - mean) * size, tails)
        return float(ends[1] - ends[0]) - (high - low)

    # From narrow to wide: a mean near 0 or 1 has two sizes with one width, and the larger is meant.
    steps = np.linspace(math.log(LARGEST_SIZE), math.log(LEAST_SIZE), 60)
    found = np.array([excess(step) for step in steps])
    if found[0] > 0:
        return mean, KNOWN
    wide = int(np.argmax(found > 0))
    log_size = steps[np.argmax(found)]
    if wide:
        log_size = optimize.brentq(excess, steps[wide], steps[wide - 1], xtol=1e-12)
    size = math.exp(log_size)
    return mean * size, (1 - mean) * size


def living_chances(kinds: Sequence[Kind]) -> Floats:
    """Chance that exactly k trees of the mix live, `(trees planted + 1,)`.

    >>> living_chances([Kind(1, 0.5, KNOWN), Kind(1, 1, 1)]).tolist()
    [0.25, 0.5, 0.25]
    """
    return all_together([Survivors(kind.alive, kind.dead).probabilities(kind.planted) for kind in kinds])


def chance_of_living(target: int, kinds: Sequence[Kind]) -> float:
    """Chance that at least `target` trees of the mix live.

    >>> round(chance_of_living(1100, [Kind(1642, 24, 6)]), 4), round(chance_of_living(1100, [Kind(1641, 24, 6)]), 4)
    (0.9504, 0.9499)
    """
    if target <= 0:
        return 1.0
    if target > sum(kind.planted for kind in kinds):
        return 0.0
    return float(tails_of(living_chances(kinds))[target])


def shared_out(total: int, weights: Sequence[float]) -> tuple[int, ...]:
    """A whole number of trees by weights; one tree more never takes one from any kind.

    Divisors at the halves (Webster 1832, Sainte-Laguë 1910): as fair as rounding, and monotone, which rounding
    to the largest remainder is not.

    >>> shared_out(10, [1, 1, 1]), shared_out(7, [60, 30, 10])
    ((4, 3, 3), (4, 2, 1))
    """
    share = np.asarray(weights, float)
    if total < 0 or (share < 0).any() or not share.sum() > 0:
        raise ValueError("weights must not be negative, nor all 0, and the total not below 0.")
    share = share / share.sum()
    found = np.floor(total * share + 0.5).astype(int)
    while found.sum() < total:
        found[np.argmax(share / (found + 0.5))] += 1
    while found.sum() > total:
        claims = np.where(found > 0, share / np.maximum(found - 0.5, 0.5), np.inf)
        found[claims.size - 1 - np.argmin(claims[::-1])] -= 1
    return tuple(int(n) for n in found)


def assured_quantity(target: int, kinds: Sequence[Kind], assurance: float) -> Assured:
    """Smallest planting of a mix, its proportions kept, with P(living ≥ target) ≥ assurance.

    Parameters
    ----------
    target : living trees wanted at the check. [trees]
    kinds : the mix as it is, at least one tree of something.
    assurance : wanted chance, 0..1.

    Raises
    ------
    ValueError
        If nothing is planted or the assurance is not between 0 and 1.
    OverflowError
        If no sensible number gives the assurance.

    Examples
    --------
    >>> assured_quantity(1100, [Kind(1375, 0.8, KNOWN)], 0.95).n_assured
    1406
    >>> found = assured_quantity(1100, [Kind(1375, 24, 6)], 0.95)
    >>> found.n_expected, found.n_if_known, found.n_assured
    (1375, 1406, 1642)
    """
    if not 0 < assurance < 1:
        raise ValueError(f"assurance must lie between 0 and 1, got {assurance}.")
    planted = [kind.planted for kind in kinds]
    if sum(planted) <= 0:
        raise ValueError("a mix must plant at least one tree.")
    living = sum(kind.planted * kind.mean for kind in kinds)
    expected = target * sum(planted) / living if living > 0 else math.inf
    if expected > MOST:
        raise OverflowError("assurance_out_of_reach")
    assured, reached = _smallest(target, kinds, expected, assurance)
    if_known, _chance = _smallest(target, [kind.as_if_known() for kind in kinds], expected, assurance)
    return Assured(
        target, living, chance_of_living(target, kinds), math.ceil(expected - 1e-9), if_known, assured,
        shared_out(assured, planted), reached,
    )  # fmt: skip


def _smallest(target: int, kinds: Sequence[Kind], expected: float, assurance: float) -> tuple[int, float]:
    planted = [kind.planted for kind in kinds]
    survivors = [Survivors(kind.alive, kind.dead) for kind in kinds]

    def chance(total: int) -> float:
        if total < target:
            return 0.0
        parts = zip(survivors, shared_out(total, planted), strict=True)
        found = tails_of(all_together([each.probabilities(n) for each, n in parts]))
        return float(found[target]) if target > 0 else 1.0

    return smallest(chance, expected, assurance)


def to_order(planted: int, cull: float, handling_loss: float, fewest: int = 0) -> int:
    """Plants to order so that `planted` are left after culling and handling, the nursery's fewest kept.

    >>> to_order(1375, 0.03, 0.02), to_order(20, 0, 0, fewest=100)
    (1447, 100)
    """
    if not (0 <= cull < 1 and 0 <= handling_loss < 1):
        raise ValueError("cull and handling loss must be shares below 1.")
    if planted <= 0:
        return 0
    return max(math.ceil(planted / ((1 - cull) * (1 - handling_loss)) - 1e-9), fewest)

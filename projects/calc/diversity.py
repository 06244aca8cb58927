"""How varied a mix is."""

import math
from collections.abc import Collection, Sequence


def _shares(counts: Sequence[float]) -> list[float]:
    total = sum(counts)
    if total <= 0 or min(counts) < 0:
        raise ValueError("counts must not be negative, nor all 0.")
    return [count / total for count in counts if count]


def shannon(counts: Sequence[float], base: float = math.e) -> float:
    """Shannon's H of the shares.

    >>> round(shannon([5, 5, 5, 5], base=10), 3)
    0.602
    """
    if not base > 1:
        raise ValueError("the base of a logarithm must be above 1.")
    return -sum(p * math.log(p) for p in _shares(counts)) / math.log(base)


def evenness(counts: Sequence[float]) -> float:
    """H over its greatest value for as many species; 1 for a single one.

    >>> round(evenness([1, 1, 1, 17]), 2)
    0.42
    """
    n_species = sum(1 for count in counts if count)
    return shannon(counts) / math.log(n_species) if n_species > 1 else 1.0


def effective_species(counts: Sequence[float]) -> float:
    """exp(H): how many equally common species would be as varied (Hill 1973).

    >>> round(effective_species([40, 25, 15, 10, 5, 5]), 2)
    4.61
    """
    return math.exp(shannon(counts))


def inverse_simpson(counts: Sequence[float]) -> float:
    """1 / Σp², which leans on the common species (Hill 1973).

    >>> round(inverse_simpson([40, 25, 15, 10, 5, 5]), 2)
    3.85
    """
    return 1 / sum(p**2 for p in _shares(counts))


def simpson_of_sample(counts: Sequence[int]) -> float:
    """Chance that two trees drawn without replacement are of one species: Σn(n−1) / N(N−1).

    >>> round(simpson_of_sample([2, 8, 1, 1, 3]), 4)
    0.3048
    """
    total = sum(counts)
    if total < 2 or min(counts) < 0:
        raise ValueError("there must be two trees at least, and no number below 0.")
    return sum(n * (n - 1) for n in counts) / (total * (total - 1))


def sorensen(one: Collection[str], other: Collection[str]) -> float:
    """Likeness of two species lists: 2c / (a + b); small lists look less alike than they are."""
    if not (one or other):
        raise ValueError("two empty lists cannot be compared.")
    return 2 * len(set(one) & set(other)) / (len(set(one)) + len(set(other)))

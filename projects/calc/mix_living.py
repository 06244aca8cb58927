"""How many trees of a mix live, with limits, and how varied the mix is."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from projects.calc.assured_quantity import Kind, kind_of, living_chances
from projects.calc.diversity import effective_species, inverse_simpson

K = TypeVar("K")
Survival = tuple[float, float, float]  # mean and limits of the share alive


@dataclass(frozen=True, slots=True)
class Living:
    """Living trees expected at the check age, between the limits at 95 %. [trees]"""

    mean: float
    low: int
    high: int


def living_of(kinds: Sequence[Kind], level: float = 0.95) -> Living:
    """Living trees of several kinds whose survivals are independent of one another.

    Parameters
    ----------
    kinds : one for each species and stock type, its plants of all blocks together: survival is one unknown share
        for all plants of a kind, so that its doubt adds up in full within the kind and cancels between kinds.
    level : of the limits, equal tails.

    Returns
    -------
    Living
        Mean, and the counts below and above which the sum falls with (1 − level) / 2 each, exact by convolution of
        beta-binomials. A year that is bad for all kinds at once is not in it.

    Examples
    --------
    >>> living_of([Kind(10, 7.0, 3.0)])
    Living(mean=7.0, low=3, high=10)
    >>> living_of([])
    Living(mean=0, low=0, high=0)
    """
    below = np.cumsum(living_chances(kinds)) if kinds else np.ones(1)
    tail = (1 - level) / 2
    low, high = (int(np.searchsorted(below, share)) for share in (tail, 1 - tail))
    last = below.size - 1
    return Living(sum(kind.planted * kind.mean for kind in kinds), min(low, last), min(high, last))


def kinds_together(planted: Iterable[tuple[K, int, Survival]]) -> list[Kind]:
    """Plants of each kind added up over blocks and waves, with the Beta its mean and limits tell.

    Where lines of one kind say different things of its survival, each weighs by its plants.

    >>> kinds_together([("oak", 3, (0.7, 0.7, 0.7)), ("oak", 1, (0.5, 0.5, 0.5))])
    [Kind(planted=4, alive=0.65, dead=inf)]
    """
    sums: dict[K, int] = {}
    shares: dict[K, np.ndarray] = {}
    for kind, number, share in planted:
        if number:
            sums[kind] = sums.get(kind, 0) + number
            shares[kind] = shares.get(kind, np.zeros(3)) + number * np.asarray(share, float)
    return [kind_of(number, *(shares[kind] / number).round(12).tolist()) for kind, number in sums.items()]


@dataclass(frozen=True, slots=True)
class Variety:
    """Of a mix: species, and how many equally common ones would be as varied, by exp(H) and by 1/Σp²."""

    species: int
    by_entropy: float
    by_squares: float


def variety_of(counts: Iterable[int]) -> Variety | None:
    """Variety of the plants of each species; None where nothing is planted.

    >>> variety_of([50, 50, 0])
    Variety(species=2, by_entropy=2.0, by_squares=2.0)
    """
    planted = [count for count in counts if count]
    if not planted:
        return None
    return Variety(len(planted), round(effective_species(planted), 9), round(inverse_simpson(planted), 9))

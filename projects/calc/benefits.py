"""What people may gain of the trees, year by year: ranges multiplied by trees or ground and added within one unit."""

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from itertools import pairwise

TREE, HECTARE, WHOLE = "tree", "ha", "whole"


@dataclass(frozen=True, slots=True)
class Range:
    """From the least to the most."""

    low: float
    high: float

    def __add__(self, other: "Range") -> "Range":
        return Range(self.low + other.low, self.high + other.high)


@dataclass(frozen=True, slots=True)
class Gain:
    """One gain over some years after planting. `what` tells apart what must never be added: kind and unit."""

    what: Hashable
    from_year: int
    until_year: int
    amount: Range


@dataclass(frozen=True, slots=True)
class Band:
    """Years, both ends included, in which the same gains run."""

    from_year: int
    until_year: int
    amounts: Mapping[Hashable, Range] = field(default_factory=dict)


def multiplied(per: str, amount: Range, living: Range | None, area_ha: float | None) -> Range | None:
    """The whole gain: for each living tree, each hectare, or as it stands; None where the multiplier is not known.

    The least gain meets the fewest living trees and the most gain the most, so the uncertainty of survival
    widens the range.

    Parameters
    ----------
    per : `tree`, `ha` or `whole`.
    amount : gain for one of them. [the gain's unit]
    living : living trees expected. [trees]
    area_ha : net area. [ha]

    Raises
    ------
    ValueError
        If `per` is none of the three.

    Examples
    --------
    >>> multiplied("tree", Range(2, 5), Range(600, 900), None)
    Range(low=1200, high=4500)
    >>> multiplied("ha", Range(2, 5), None, 1.5), multiplied("tree", Range(2, 5), None, 1.5)
    (Range(low=3.0, high=7.5), None)
    """
    if per == WHOLE:
        return amount
    if per == TREE:
        return None if living is None else Range(amount.low * living.low, amount.high * living.high)
    if per == HECTARE:
        return None if area_ha is None else Range(amount.low * area_ha, amount.high * area_ha)
    raise ValueError(f"a gain is for a tree, a hectare or the whole, not {per!r}.")


def by_years(gains: Iterable[Gain]) -> list[Band]:
    """Split the years where a gain begins or ends, and add within each band what is of one kind and unit.

    A band's amounts hold in each of its years as far as the gain's own unit says "a year"; nothing is multiplied
    by the number of years.

    Raises
    ------
    ValueError
        If a gain ends before it begins.

    Examples
    --------
    >>> for band in by_years([Gain("fruit, kg", 5, 10, Range(1, 2)), Gain("fruit, kg", 8, 12, Range(10, 20))]):
    ...     print(band.from_year, band.until_year, dict(band.amounts))
    5 7 {'fruit, kg': Range(low=1, high=2)}
    8 10 {'fruit, kg': Range(low=11, high=22)}
    11 12 {'fruit, kg': Range(low=10, high=20)}
    """
    gains = list(gains)
    for gain in gains:
        if gain.until_year < gain.from_year:
            raise ValueError("a gain ends after it begins.")
    edges = sorted({year for gain in gains for year in (gain.from_year, gain.until_year + 1)})
    bands = []
    for start, after in pairwise(edges):
        amounts: dict[Hashable, Range] = defaultdict(lambda: Range(0, 0))
        for gain in gains:
            if gain.from_year <= start and gain.until_year >= after - 1:
                amounts[gain.what] += gain.amount
        if amounts:
            bands.append(Band(start, after - 1, dict(amounts)))
    return bands

"""Seed trees and what is gathered from them: how many parents it comes to, how far apart, when seed ripens."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from projects.calc.seed import chance_allele_is_caught, effective_parents

RARE_ALLELE = 0.05  # the frequency seed collectors speak of
FEWEST_OUTCROSSERS, FEWEST_SELFERS, BETTER = 30, 59, 50  # Brown and Marshall (1995), see calc/seed.py
APART_M = 50.0  # parents closer than this may be relatives; common practice
CROP_SHARE = 0.20  # of one tree's seed; common practice
EARTH_M = 6_371_008.8  # mean radius
UNEVEN = 0.8  # effective parents below this share of the trees named are worth a word

FEW_PARENTS, CLOSE_TOGETHER, DISTANCE_UNKNOWN = "few_parents", "close_together", "distance_unknown"
UNEQUAL, SHARES_MISSING, MORE_SHARES_THAN_TREES = "unequal", "shares_missing", "more_shares_than_trees"


@dataclass(frozen=True, slots=True)
class Parents:
    """What the parents of a collection come to.

    Attributes
    ----------
    trees : mother trees said to be in it.
    effective : equal parents that would be as varied, of those whose share is known; None without shares.
    chance_outcrossing, chance_selfing : chance that an allele of frequency 0.05 is in the seed at least once,
        by the number of trees (and of the effective number where that is smaller).
    warnings : codes, the weightiest first.
    """

    trees: int
    effective: float | None
    chance_outcrossing: float
    chance_selfing: float
    warnings: tuple[str, ...]


def parents(trees: int, shares: Sequence[float] = (), apart_m: float | None = None) -> Parents:
    """Judge the parents of a collection.

    Parameters
    ----------
    trees : mother trees.
    shares : weight of seed of each tree that was weighed apart, any unit; zeros are left out.
    apart_m : least distance between two of them. [m]

    Raises
    ------
    ValueError
        If there is no tree, or a share or distance lies below 0.

    Examples
    --------
    >>> found = parents(5, [50, 20, 10, 10, 10], 80)
    >>> found.effective, found.warnings
    (3.125, ('few_parents', 'unequal'))
    >>> round(parents(30).chance_outcrossing, 4), round(parents(59).chance_selfing, 4)
    (0.9539, 0.9515)
    """
    if trees < 1 or (apart_m is not None and apart_m < 0) or min(shares, default=0) < 0:
        raise ValueError("a collection has at least one tree, and no share or distance lies below 0.")
    known = [share for share in shares if share > 0]
    effective = effective_parents(known) if known else None
    counted = trees if effective is None or len(known) < trees else max(min(trees, math.floor(effective)), 1)
    return Parents(
        trees,
        effective,
        chance_allele_is_caught(RARE_ALLELE, counted),
        chance_allele_is_caught(RARE_ALLELE, counted, selfing=True),
        _warnings(trees, known, effective, apart_m),
    )


def _warnings(
    trees: int, known: Sequence[float], effective: float | None, apart_m: float | None
) -> tuple[str, ...]:
    found = {
        FEW_PARENTS: trees < FEWEST_OUTCROSSERS,
        UNEQUAL: effective is not None and effective < UNEVEN * len(known),
        MORE_SHARES_THAN_TREES: len(known) > trees,
        SHARES_MISSING: 0 < len(known) < trees,
        CLOSE_TOGETHER: trees > 1 and apart_m is not None and apart_m < APART_M,
        DISTANCE_UNKNOWN: trees > 1 and apart_m is None,
    }
    return tuple(code for code, holds in found.items() if holds)


def months_between(first: int, last: int) -> list[int]:
    """Months from the first to the last, over the turn of the year where the last comes before the first.

    >>> months_between(9, 11), months_between(11, 2)
    ([9, 10, 11], [11, 12, 1, 2])
    """
    if not (1 <= first <= 12 and 1 <= last <= 12):
        raise ValueError("a month is a number from 1 to 12.")
    return [(first - 1 + step) % 12 + 1 for step in range((last - first) % 12 + 1)]


def distance_m(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Distance of two places (latitude, longitude) along a sphere; good to half a per cent. [m]

    One minute of latitude is a nautical mile, 1,852 m.

    >>> round(distance_m((0.0, 0.0), (1 / 60, 0.0)) / 1852, 2)
    1.0
    """
    (lat_1, lon_1), (lat_2, lon_2) = (tuple(map(math.radians, place)) for place in (one, other))
    arc = (
        math.sin((lat_2 - lat_1) / 2) ** 2
        + math.cos(lat_1) * math.cos(lat_2) * math.sin((lon_2 - lon_1) / 2) ** 2
    )
    return 2 * EARTH_M * math.asin(math.sqrt(min(arc, 1.0)))


def closest_m(places: Sequence[tuple[float, float]]) -> float | None:
    """Least distance between two of some places; None for fewer than two. [m]

    >>> round(closest_m([(0, 0), (0.001, 0), (0.01, 0)]))
    111
    """
    pairs = [
        distance_m(places[first], places[second])
        for first in range(len(places))
        for second in range(first + 1, len(places))
    ]
    return min(pairs, default=None)


def rounded_place(latitude: float, longitude: float, places: int = 2) -> tuple[float, float]:
    """A place told so roughly that nobody finds the tree by it: two decimals are about a kilometre.

    >>> rounded_place(40.31267, -7.48901)
    (40.31, -7.49)
    """
    return round(latitude, places), round(longitude, places)

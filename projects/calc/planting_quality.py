"""How many trees were planted as they should be: the share found in spots of ground looked at, with its limits.

Trees of one spot share a planter and a piece of soil, so the spots are the sampling units and the trees are not.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from scipy import special

LEVEL = 0.95  # two-sided
EDGE_CORRELATION = (
    0.1  # of trees within a spot where the spots show no spread; an assumption, common practice
)

NOTHING, ONE_SPOT, SPREAD, NO_SPREAD = "nothing", "one_spot", "spread", "no_spread"


@dataclass(frozen=True, slots=True)
class Spot:
    """One spot of ground: trees looked at, and those of them planted as they should be. [trees]"""

    inspected: int
    acceptable: int


@dataclass(frozen=True, slots=True)
class Quality:
    """The share planted as it should be.

    Attributes
    ----------
    n_spots, inspected, acceptable : what it rests on.
    value : acceptable over inspected, both summed over the spots; None without a tree.
    se : linearised standard error; None with one spot or none.
    lower, upper : limits at `level`; None without a tree.
    basis : how the limits were found: `spread` between spots, `one_spot`, `no_spread` between spots, `nothing`.
    """

    n_spots: int
    inspected: int
    acceptable: int
    value: float | None
    se: float | None
    lower: float | None
    upper: float | None
    basis: str
    level: float = LEVEL


def quality(spots: Sequence[Spot], level: float = LEVEL) -> Quality:
    """Estimate the share of trees planted as they should be.

    Parameters
    ----------
    spots : every spot looked at.
    level : two-sided level of the limits, above 0 and below 1.

    Returns
    -------
    Quality
        Several spots: ratio of totals, linearised standard error, Student-t limits on the logit scale with
        spots − 1 degrees of freedom. Where the spots show no spread, as at 0 % and 100 %, exact binomial limits
        on trees / (1 + (m − 1) × 0.1), m = Σ inspected² / Σ inspected, since trees of a spot are alike.
        One spot: exact binomial limits as if its trees were independent, which one spot cannot tell.

    Raises
    ------
    ValueError
        If a spot has no tree, or more acceptable than inspected, or the level is out of range.

    References
    ----------
    Cochran (1977), Sampling Techniques, 3rd ed., ch. 6; Clopper and Pearson (1934), Biometrika 26:404; the limits
    agree with R survey 4.1-1 `svyciprop(method="xlogit")`.

    Examples
    --------
    >>> found = quality([Spot(20, 19), Spot(20, 16), Spot(18, 18), Spot(22, 20)])
    >>> round(found.value, 4), round(found.se, 4), round(found.lower, 2), round(found.upper, 2)
    (0.9125, 0.0411, 0.67, 0.98)
    >>> one = quality([Spot(20, 20)])
    >>> one.basis, round(one.lower, 4), one.upper
    ('one_spot', 0.8316, 1.0)
    """
    if not 0 < level < 1:
        raise ValueError(f"the level must lie between 0 and 1, got {level}.")
    if any(not 0 <= each.acceptable <= each.inspected or each.inspected < 1 for each in spots):
        raise ValueError("a spot has at least one tree, and no more acceptable ones than were looked at.")
    trees, good, n = sum(each.inspected for each in spots), sum(each.acceptable for each in spots), len(spots)
    if not spots:
        return Quality(0, 0, 0, None, None, None, None, NOTHING, level)
    share = good / trees
    if n == 1:
        return Quality(1, trees, good, share, None, *exact_limits(good, trees, level), ONE_SPOT, level)
    squares = sum((each.acceptable - share * each.inspected) ** 2 for each in spots)
    se = sqrt(n / (n - 1) * squares) / trees
    if se <= 1e-12 or good in (0, trees):
        effective = effective_trees(spots)
        limits = exact_limits(share * effective, effective, level)
        return Quality(n, trees, good, share, se, *limits, NO_SPREAD, level)
    half = float(special.stdtrit(n - 1, (1 + level) / 2)) * se / (share * (1 - share))
    centre = special.logit(share)
    limits = float(special.expit(centre - half)), float(special.expit(centre + half))
    return Quality(n, trees, good, share, se, *limits, SPREAD, level)


def effective_trees(spots: Sequence[Spot], correlation: float = EDGE_CORRELATION) -> float:
    """How many independent trees the trees of some spots are worth. [trees]

    >>> round(effective_trees([Spot(10, 10), Spot(10, 10)]), 2)
    10.53
    """
    trees = sum(each.inspected for each in spots)
    mean_spot = sum(each.inspected**2 for each in spots) / trees
    return trees / (1 + (mean_spot - 1) * correlation)


def exact_limits(good: float, trees: float, level: float = LEVEL) -> tuple[float, float]:
    """Exact binomial limits (Clopper and Pearson); numbers may be fractional.

    >>> [round(limit, 4) for limit in exact_limits(81, 263)]
    [0.2527, 0.3676]
    """
    tail, bad = (1 - level) / 2, trees - good
    lower = 0.0 if good <= 0 else float(special.betaincinv(good, bad + 1, tail))
    upper = 1.0 if bad <= 0 else float(special.betaincinv(good + 1, bad, 1 - tail))
    return lower, upper


def faults_in_all(faults: Sequence[dict[str, int]]) -> dict[str, int]:
    """Add up faults over spots, the most frequent first; one tree may have several.

    >>> faults_in_all([{"loose": 1, "too_deep": 2}, {"loose": 3}])
    {'loose': 4, 'too_deep': 2}
    """
    total: dict[str, int] = {}
    for found in faults:
        for name, number in found.items():
            total[name] = total.get(name, 0) + number
    return dict(sorted(total.items(), key=lambda pair: (-pair[1], pair[0])))

"""Acceptance of a lot by attributes: how many plants to look at, and what a sample with some bad ones says.

Plants are drawn without replacement from a lot of a known size, so every chance here is hypergeometric and exact.
It holds for plants drawn at random from all boxes; the top layer of the nearest box is not such a sample.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

ACCEPT, HOLD, REJECT = "accept", "hold", "reject"


@dataclass(frozen=True, slots=True)
class Points:
    """Between what two shares of bad plants a sample should tell, and how often it may be wrong.

    The defaults are common practice with no one source; agree on yours with the nursery.

    Attributes
    ----------
    acceptable : share of bad plants a lot may have and should nearly always be accepted with (producer's point).
    tolerable : share of bad plants a lot should hardly ever be accepted with (consumer's point).
    producer_risk : greatest chance to turn down an acceptable lot.
    consumer_risk : greatest chance to accept one at the tolerable share.
    """

    acceptable: float = 0.05
    tolerable: float = 0.15
    producer_risk: float = 0.05
    consumer_risk: float = 0.10

    def __post_init__(self) -> None:
        if not 0 <= self.acceptable < self.tolerable <= 1:
            raise ValueError("acceptable must lie below tolerable, both between 0 and 1.")
        if not (0 < self.producer_risk < 1 and 0 < self.consumer_risk < 1):
            raise ValueError("the risks must lie between 0 and 1.")

    def bad_in(self, lot_size: int) -> tuple[int, int]:
        """Most bad plants an acceptable lot has, and fewest an intolerable one has."""
        slack = 1e-9  # 0.15 of 200 is 30, whatever binary fractions say
        return (
            math.floor(self.acceptable * lot_size + slack),
            max(1, math.ceil(self.tolerable * lot_size - slack)),
        )


@dataclass(frozen=True, slots=True)
class SamplePlan:
    """Look at `sample_size` plants; accept with up to `accept_up_to` bad ones.

    `accept_acceptable` and `accept_intolerable` are the exact chances to accept a lot at the two points.
    """

    sample_size: int
    accept_up_to: int
    accept_acceptable: float
    accept_intolerable: float


@dataclass(frozen=True, slots=True)
class BadLimits:
    """How many plants of a lot may be bad, from a sample: exact limits, as numbers and shares of the lot."""

    fewest: int
    most: int
    lot_size: int
    level: float

    @property
    def lower(self) -> float:
        """Lower limit of the share of bad plants."""
        return self.fewest / self.lot_size

    @property
    def upper(self) -> float:
        """Upper limit of the share of bad plants."""
        return self.most / self.lot_size


def chance_to_accept(lot_size: int, bad: int, sample_size: int, accept_up_to: int) -> float:
    """Chance that a sample from a lot with some bad plants holds no more bad ones than are accepted.

    Parameters
    ----------
    lot_size, bad, sample_size, accept_up_to : plants in the lot, bad ones among them, plants drawn, acceptance number.

    Returns
    -------
    float
        P(X ≤ accept_up_to), X hypergeometric; correct to the last digits of a float.

    Raises
    ------
    ValueError
        If a number is negative, or more are drawn or bad than the lot holds.

    References
    ----------
    Feller (1968), An Introduction to Probability Theory and Its Applications 1, ch. II.6 (from memory).

    Examples
    --------
    >>> round(chance_to_accept(20, 4, 5, 0), 4), chance_to_accept(20, 4, 5, 4)
    (0.2817, 1.0)
    """
    _check(lot_size, bad, sample_size)
    if accept_up_to < 0:
        return 0.0
    most = min(accept_up_to, bad, sample_size)
    if most == min(bad, sample_size):
        return 1.0
    fewest = max(0, sample_size - (lot_size - bad))
    return _sum(lot_size, bad, sample_size, fewest, most) / math.comb(lot_size, sample_size)


def limits_of_bad(lot_size: int, sample_size: int, found: int, *, level: float = 0.95) -> BadLimits:
    """Exact limits for the number of bad plants in a lot: those a sample like this one is not too rare for.

    Parameters
    ----------
    lot_size, sample_size, found : plants in the lot, plants looked at, bad ones found.
    level : two-sided; each limit alone holds with (1 + level)/2.

    Returns
    -------
    BadLimits

    Raises
    ------
    ValueError
        If more were found than looked at, or nothing was looked at.

    Notes
    -----
    Clopper and Pearson's limits with the hypergeometric law in place of the binomial: the most bad plants M with
    P(X ≤ found | M) > (1 − level)/2, and the fewest with P(X ≥ found | M) > (1 − level)/2. They cover at least as
    often as they say. When every plant was looked at both are what was found.

    References
    ----------
    Clopper and Pearson (1934), Biometrika 26:404; Cochran (1977), Sampling Techniques, 3rd ed., section 3.6 (from
    memory).

    Examples
    --------
    >>> limits = limits_of_bad(900, 75, 3)
    >>> limits.fewest, limits.most, round(limits.upper, 3)
    (9, 98, 0.109)
    """
    if not 0 <= found <= sample_size or not 1 <= sample_size <= lot_size:
        raise ValueError(
            "A sample holds at least one plant, no more than the lot, and the bad ones among them."
        )
    if not 0 < level < 1:
        raise ValueError("level must lie between 0 and 1.")
    tail = (1 - level) / 2
    lowest, highest = found, lot_size - (sample_size - found)  # what was seen is in the lot

    def few_enough(bad: int) -> bool:
        return chance_to_accept(lot_size, bad, sample_size, found) > tail

    def enough(bad: int) -> bool:
        return 1 - chance_to_accept(lot_size, bad, sample_size, found - 1) > tail

    most = _last(lowest, highest, few_enough)
    return BadLimits(_first(lowest, highest, enough), most, lot_size, level)


def smallest_plan(lot_size: int, points: Points) -> SamplePlan:
    """Return the fewest plants to look at, and up to how many bad ones to accept, that keep both risks.

    Parameters
    ----------
    lot_size : plants in the lot.
    points : Points

    Returns
    -------
    SamplePlan

    Raises
    ------
    ValueError
        If the lot is so small that no number of plants lies between the points.

    Notes
    -----
    For each acceptance number the smallest sample that keeps the consumer's risk is found by bisection, as the
    chance to accept falls with every plant more; the first that keeps the producer's risk too is the smallest of all,
    since samples grow with the acceptance number. Looking at every plant keeps both, so one is always found.

    Examples
    --------
    >>> plan = smallest_plan(900, Points())
    >>> plan.sample_size, plan.accept_up_to
    (67, 6)
    """
    good_lot, bad_lot = points.bad_in(lot_size)
    if lot_size < 1 or good_lot >= bad_lot:
        raise ValueError("The lot is too small to tell the two shares apart: look at every plant.")
    smallest = 1
    for accept_up_to in range(good_lot + 1):

        def is_strict(sample_size: int, number: int = accept_up_to) -> bool:
            return chance_to_accept(lot_size, bad_lot, sample_size, number) <= points.consumer_risk

        smallest = most = max(smallest, accept_up_to + 1)
        while most < lot_size and not is_strict(most):
            smallest, most = most, min(lot_size, 2 * most)
        smallest = _first(smallest, most, is_strict)
        kept = chance_to_accept(lot_size, good_lot, smallest, accept_up_to)
        if kept >= 1 - points.producer_risk:
            let_through = chance_to_accept(lot_size, bad_lot, smallest, accept_up_to)
            return SamplePlan(smallest, accept_up_to, kept, let_through)
    raise AssertionError("Looking at every plant keeps both risks.")  # pragma: no cover


def sample_verdict(
    lot_size: int, sample_size: int, found: int, points: Points, *, accept_up_to: int | None = None
) -> str:
    """Say what a sample suggests: accept, hold or reject.

    Parameters
    ----------
    lot_size, sample_size, found : plants in the lot, plants looked at, bad ones found.
    points : Points
    accept_up_to : the acceptance number agreed on; without one the two points decide.

    Notes
    -----
    Reject: so many bad plants would be found in an acceptable lot with no more than the producer's risk. Accept: no
    more than the agreed number; or without one, so few would be found in an intolerable lot with no more than the
    consumer's risk, and the sample does not reject. Hold: neither, the sample cannot tell yet.

    Examples
    --------
    >>> [sample_verdict(900, 67, found, Points()) for found in (3, 6, 7)]
    ['accept', 'accept', 'reject']
    >>> [sample_verdict(900, 20, found, Points()) for found in (0, 1, 2, 4)]
    ['accept', 'hold', 'hold', 'reject']
    """
    good_lot, bad_lot = points.bad_in(lot_size)
    if not 0 <= found <= sample_size or not 1 <= sample_size <= lot_size:
        raise ValueError(
            "A sample holds at least one plant, no more than the lot, and the bad ones among them."
        )
    if accept_up_to is not None and found <= accept_up_to:
        return ACCEPT
    if 1 - chance_to_accept(lot_size, good_lot, sample_size, found - 1) <= points.producer_risk:
        return REJECT
    is_sure = chance_to_accept(lot_size, bad_lot, sample_size, found) <= points.consumer_risk
    return ACCEPT if is_sure and accept_up_to is None else HOLD


def _sum(lot_size: int, bad: int, sample_size: int, fewest: int, most: int) -> int:
    """Ways to draw between `fewest` and `most` bad plants: each term from the one before, in whole numbers."""
    if most < fewest:
        return 0
    good = lot_size - bad
    term = math.comb(bad, fewest) * math.comb(good, sample_size - fewest)
    total = term
    for k in range(fewest, most):
        term = term * (bad - k) * (sample_size - k) // ((k + 1) * (good - sample_size + k + 1))
        total += term
    return total


def _first(low: int, high: int, holds: Callable[[int], bool]) -> int:
    """First number from low to high for which a test holds that holds for all after it; `high` where none does."""
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle + 1, high)
    return low


def _last(low: int, high: int, holds: Callable[[int], bool]) -> int:
    """Last number from low to high for which a test holds that holds for all before it; `low` where none does."""
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if holds(middle) else (low, middle - 1)
    return low


def _check(lot_size: int, bad: int, sample_size: int) -> None:
    if not (0 <= bad <= lot_size and 0 <= sample_size <= lot_size):
        raise ValueError("No more plants are bad or drawn than the lot holds, and none fewer than 0.")

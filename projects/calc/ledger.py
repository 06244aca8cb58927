"""The ledger of a lot: everything received is somewhere, and what is nowhere is shown as a gap."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

OUTWARD = ("planted", "given_out", "moved_on", "culled", "returned", "lost")


@dataclass(frozen=True, slots=True)
class Event:
    """Plants that left a lot on a day: `kind` is one of `OUTWARD`."""

    kind: str
    quantity: int
    on: date


@dataclass(frozen=True, slots=True)
class Arrival:
    """Plants that came over from another lot on a day: a split or a merge."""

    quantity: int
    on: date


@dataclass(frozen=True, slots=True)
class Count:
    """A stock take: what was on hand at the end of a day."""

    on: date
    on_hand: int


@dataclass(frozen=True, slots=True)
class Ledger:
    """Where the plants of one lot are. [plants]

    `received = planted + given_out + on_hand + moved_on + culled + returned + lost + gap` always holds,
    with `on_hand` taken as `expected_on_hand` while nobody has counted.

    Attributes
    ----------
    received : int
        What came with the lot itself and what came over from other lots since.
    came_over : int
        The part of `received` that came over from other lots.
    on_hand : int or None
        The last stock take less what left since, with what came over since; None when nobody has counted.
    expected_on_hand : int
        Received less everything recorded as having left; never below 0.
    gap : int
        Plants received that are nowhere (positive), or more placed than received (negative).
        Without a stock take only the second can be known.
    """

    received: int
    planted: int
    given_out: int
    moved_on: int
    culled: int
    returned: int
    lost: int
    on_hand: int | None
    expected_on_hand: int
    gap: int
    counted_on: date | None
    came_over: int = 0

    @property
    def is_counted(self) -> bool:
        """Whether a stock take stands behind `on_hand`."""
        return self.on_hand is not None

    @property
    def at_hand(self) -> int:
        """What to plan with: the counted number, else the expected one."""
        return self.expected_on_hand if self.on_hand is None else self.on_hand


def lot_ledger(
    received: int, events: Iterable[Event], counts: Iterable[Count], arrivals: Iterable[Arrival] = ()
) -> Ledger:
    """Balance a lot from its history.

    Parameters
    ----------
    received : int
        Plants received with the lot itself. [plants]
    events : iterable of Event
        Everything that left the lot, in any order; voided events left out.
    counts : iterable of Count
        Stock takes in any order; of two on one day the one given later counts.
    arrivals : iterable of Arrival
        What came over from other lots, in any order; taken back ones left out.

    Returns
    -------
    Ledger

    Raises
    ------
    ValueError
        If a number is negative or a kind unknown.

    Notes
    -----
    A stock take is read as made at the end of its day: what left that day had already left, and what came
    over that day was there. What left after it is taken off and what came after it is added; a count can
    therefore fall to 0 but not below, and the rest becomes the gap.

    Examples
    --------
    >>> out = [Event("planted", 560, date(2024, 2, 10)), Event("culled", 20, date(2024, 2, 9))]
    >>> ledger = lot_ledger(900, out, [Count(date(2024, 2, 10), 310)])
    >>> ledger.on_hand, ledger.expected_on_hand, ledger.gap
    (310, 320, 10)
    """
    out = dict.fromkeys(OUTWARD, 0)
    kept = list(events)
    for event in kept:
        if event.kind not in out:
            raise ValueError(f"Unknown kind {event.kind!r}; use one of {', '.join(OUTWARD)}.")
        out[event.kind] += _natural(event.quantity)
    last = _last(counts)
    came = list(arrivals)
    came_over = sum(_natural(arrival.quantity) for arrival in came)
    since = 0
    if last is not None:
        since = sum(event.quantity for event in kept if event.on > last.on)
        since -= sum(arrival.quantity for arrival in came if arrival.on > last.on)
    return _balance(_natural(received), came_over, out, last, since)


def _balance(received: int, came_over: int, out: dict[str, int], last: Count | None, since: int) -> Ledger:
    """Balance a lot from sums; `since` is what left since the last stock take, less what came."""
    left = received + came_over - sum(out.values())
    expected = max(0, left)
    on_hand = None if last is None else max(0, _natural(last.on_hand) - since)
    return Ledger(
        received=received + came_over,
        **out,
        on_hand=on_hand,
        expected_on_hand=expected,
        gap=left - (expected if on_hand is None else on_hand),
        counted_on=None if last is None else last.on,
        came_over=came_over,
    )


def _last(counts: Iterable[Count]) -> Count | None:
    last = None
    for count in counts:
        if last is None or count.on >= last.on:
            last = count
    return last


def _natural(number: int) -> int:
    if number < 0:
        raise ValueError(f"A number of plants cannot be negative, got {number}.")
    return number

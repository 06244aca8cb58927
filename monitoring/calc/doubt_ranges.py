"""How far a doubtful count can move: the lowest and highest reading that what was sent allows.

A reading is what the lines sharing some baselines say of them. Trees are not told apart, so a range is of numbers.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from monitoring.calc.sheet_checks import LineFacts, not_explained, open_balance

Named = frozenset[str]  # the baseline lines that a reading is about


@dataclass(frozen=True)
class Reading:
    """Trees of some baselines by one account; `planted` without those removed on purpose."""

    planted: int
    alive: int
    not_found: int
    not_assessed: int

    @property
    def room(self) -> int:
        """How many may live at most."""
        return max(self.planted - self.not_assessed, 0)

    @property
    def numbers(self) -> list[int]:
        """Alive, not found, not assessed, as they are kept."""
        return [self.alive, self.not_found, self.not_assessed]


@dataclass(frozen=True)
class Range:
    """The lowest and the highest reading of the same baselines."""

    baselines: Named
    low: Reading
    high: Reading


def line_range(line: LineFacts, not_found: int, flags: Collection[str]) -> tuple[Reading, Reading] | None:
    """Return how low and how high a flagged line can be read; None where its numbers are not in doubt.

    More alive than were planted: some counted trees are not the planted ones, and nobody can say how many, so at
    worst none lives; at best all do, where the count is capped. A sum that does not close: the trees missing from
    it may live, those too many may have been counted alive. More alive than the visit before left: one of the
    two visits is right.

    Examples
    --------
    >>> low, high = line_range(LineFacts(20, 23, 0, 0, None, 0, 0), 0, {"over_baseline"})
    >>> low.alive, high.alive
    (0, 20)
    >>> low, high = line_range(LineFacts(20, 14, 2, 0, 1, 0, 0), 1, {"sum_open"})
    >>> low.alive, high.alive
    (14, 17)
    """
    if line.planted is None:
        return None
    planted = max(line.planted - line.removed, 0)
    room = max(planted - line.not_assessed, 0)
    alive = min(line.alive, room)
    lowest, highest = alive, alive
    if "over_baseline" in flags:
        lowest, highest = 0, room
    if "sum_open" in flags:
        balance = open_balance(line)
        lowest, highest = min(lowest, max(alive + min(balance, 0), 0)), min(alive + max(balance, 0), room)
    if "contradicts_earlier" in flags:
        lowest = min(lowest, max(line.alive - max(not_explained(line), 0), 0))
    if (lowest, highest) == (alive, alive):
        return None
    return (
        Reading(planted, lowest, not_found, line.not_assessed),
        Reading(planted, highest, min(not_found, room - highest), line.not_assessed),
    )


def between(accounts: Sequence[Mapping[Named, Reading]]) -> list[Range]:
    """Return the lowest and the highest of several whole accounts of one plot.

    Each account is taken as it stands: the trees of one are never mixed with those of another.

    Examples
    --------
    >>> mine = {frozenset("a"): Reading(20, 14, 0, 0)}
    >>> yours = {frozenset("a"): Reading(20, 12, 3, 0)}
    >>> [(r.low.alive, r.high.alive) for r in between([mine, yours])]
    [(12, 14)]
    """
    keys = joined(named for account in accounts for named in account)
    every = [{key: together(account, key) for key in keys} for account in accounts]
    every = [account for account in every if sum(reading.room for reading in account.values())]
    if len(every) < 2:
        return []
    low, high = min(every, key=living_share), max(every, key=living_share)
    return [Range(key, low[key], high[key]) for key in keys]


def joined(sets: Iterable[Named]) -> list[Named]:
    """Unite sets that share a baseline; the order of their names is kept.

    >>> [sorted(one) for one in joined([frozenset("ab"), frozenset("c"), frozenset("bd")])]
    [['a', 'b', 'd'], ['c']]
    """
    found: list[Named] = []
    for named in sets:
        touching = [one for one in found if one & named]
        found = [one for one in found if one not in touching] + [named.union(*touching)]
    return sorted(found, key=sorted)


def together(account: Mapping[Named, Reading], key: Named) -> Reading:
    """Add up what an account says of some baselines."""
    parts = [reading for named, reading in account.items() if named <= key]
    return Reading(
        sum(part.planted for part in parts),
        sum(min(part.alive, part.room) for part in parts),
        sum(part.not_found for part in parts),
        sum(part.not_assessed for part in parts),
    )


def living_share(account: Mapping[Named, Reading]) -> float:
    """Share alive by a whole account."""
    room = sum(reading.room for reading in account.values())
    return sum(reading.alive for reading in account.values()) / room

"""The clock of a lot: days between lifting and planting that it spent neither cold-stored nor heeled in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

COMMON = "common practice"
HANDLING = "US Forest Service field handling pages"


@dataclass(frozen=True, slots=True)
class Wait:
    """How long stock of a type stands being out of store, and whose word that is.

    Attributes
    ----------
    days : int
        Days out of store the clock counts against: the lower end. [days]
    up_to : int
        The upper end where the source gives a range, else the same. [days]
    source : str
    """

    days: int
    up_to: int
    source: str


# Editable: a lot's clock takes the limit as an argument. Containers that were not frozen and seed have no such limit.
WAITS = {
    "bare_root": Wait(7, 10, HANDLING),  # hot-lifted 7 to 10 days; hardwoods within a week of delivery
    "balled_burlapped": Wait(14, 14, COMMON),
    "cutting": Wait(3, 3, COMMON),
    "wildling": Wait(1, 1, COMMON),
}
# What was frozen, counted like all others out of store. The handling pages' own 10 to 14 days are for thawing it.
AFTER_FROST = {"container": Wait(10, 14, COMMON)}
ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Span:
    """Days in a store: taken in on `from_on`, out again on `until_on` (None = still in)."""

    from_on: date
    until_on: date | None = None


@dataclass(frozen=True, slots=True)
class LotClock:
    """How long a lot has been out of the ground and out of store.

    Attributes
    ----------
    days_out : int
        Days out of store since lifting. [days]
    days_stored : int
        Days in cold store or heeled in since lifting. [days]
    limit_days : int or None
        Days the stock can wait; None where no limit is known for the type. [days]
    in_store : bool
        Whether the clock stands still on the day asked for.
    plant_by : date or None
        Last day within the limit if the lot stays out; None when in store or without a limit.
    """

    days_out: int
    days_stored: int
    limit_days: int | None
    in_store: bool
    plant_by: date | None

    @property
    def days_left(self) -> int | None:
        """Days left before the limit; negative once it has passed."""
        return None if self.limit_days is None else self.limit_days - self.days_out

    @property
    def is_over(self) -> bool:
        """Whether the stock waited longer than its limit."""
        return self.limit_days is not None and self.days_out > self.limit_days


def wait_for(stock_type: str, *, was_frozen: bool = False) -> Wait | None:
    """Return how long a stock type can wait out of store, or None where no limit is known.

    Examples
    --------
    >>> wait_for("bare_root").days, wait_for("container"), wait_for("container", was_frozen=True).days
    (7, None, 10)
    """
    return (AFTER_FROST.get(stock_type) if was_frozen else None) or WAITS.get(stock_type)


def limit_for(stock_type: str, *, was_frozen: bool = False) -> int | None:
    """Return the days out of store a stock type is given, or None.

    Examples
    --------
    >>> limit_for("bare_root"), limit_for("container")
    (7, None)
    """
    wait = wait_for(stock_type, was_frozen=was_frozen)
    return None if wait is None else wait.days


def lot_clock(lifted_on: date, stores: Iterable[Span], *, on: date, limit_days: int | None) -> LotClock:
    """Count the days a lot has been out of store from lifting to the day asked for.

    Parameters
    ----------
    lifted_on : date
        When the plants left the ground.
    stores : iterable of Span
        Spans in store; overlaps are counted once, what lies before lifting is ignored.
    on : date
        The day of planting, or today.
    limit_days : int or None
        Days out of store the stock can stand. [days]

    Returns
    -------
    LotClock

    Raises
    ------
    ValueError
        If `on` lies before lifting.

    Notes
    -----
    A lot lifted and planted on one day was out 0 days. The day a lot goes into store and the day it
    comes out count as one day out together, as with nights: out on the 3rd, in on the 5th, is two days.

    Examples
    --------
    >>> clock = lot_clock(date(2024, 2, 1), [Span(date(2024, 2, 3), date(2024, 2, 20))],
    ...                   on=date(2024, 2, 24), limit_days=7)
    >>> clock.days_out, clock.days_stored, clock.days_left, clock.plant_by.isoformat()
    (6, 17, 1, '2024-02-25')
    """
    if on < lifted_on:
        raise ValueError(f"The lot was lifted on {lifted_on}, after {on}.")
    spans = list(stores)
    days_out, days_stored = _nights(lifted_on, on, spans)
    return _clock(days_out, days_stored, spans, on, limit_days)


@dataclass(frozen=True, slots=True)
class Past:
    """What a lot's clock is counted from.

    Attributes
    ----------
    has_own : bool
        Whether plants came in as this lot, and not only over from others.
    lifted_on : date or None
        When those left the ground; None when nobody knows.
    stores : tuple of Span
        Spans this lot spent in store.
    came : tuple of (key, date)
        The lots its other plants came over from, and when.
    """

    has_own: bool
    lifted_on: date | None
    stores: tuple[Span, ...] = ()
    came: tuple[tuple[int, date], ...] = ()


def family_clock(pasts: Mapping[int, Past], key: int, *, on: date, limit_days: int | None) -> LotClock | None:
    """Count the days out of store of a lot that was split off or merged: those of its longest-waiting plants.

    Parameters
    ----------
    pasts : mapping of key to Past
        The lot and every lot its plants were in before.
    key : the lot asked for.
    on : the day of planting, or today.
    limit_days : days out of store the stock can stand. [days]

    Returns
    -------
    LotClock or None
        None when nobody can say how long some of the plants have been out, or the lot is not there yet.

    Notes
    -----
    Plants that came over bring the days their lot had been out by then; a clock is never younger than theirs.
    Stores of the lot before it counted its own plants, and of its parents after plants left them, count nothing.

    Examples
    --------
    >>> first = Past(True, date(2024, 2, 1), (Span(date(2024, 2, 2), date(2024, 2, 20)),))
    >>> merged = Past(False, None, (), ((1, date(2024, 2, 22)), (2, date(2024, 2, 22))))
    >>> pasts = {1: first, 2: Past(True, date(2024, 2, 17)), 3: merged}
    >>> family_clock(pasts, 3, on=date(2024, 2, 24), limit_days=7).days_out
    7
    """
    longest = _longest(pasts, key, on, {})
    return None if longest is None else _clock(*longest, pasts[key].stores, on, limit_days)


def _longest(
    pasts: Mapping[int, Past], key: int, on: date, known: dict[tuple[int, date], tuple[int, int] | None]
) -> tuple[int, int] | None:
    """Days out and days stored of the plants of a lot that were out longest by a day; None if not known."""
    if (key, on) in known:
        return known[key, on]
    known[key, on] = None  # lots that came of each other have no beginning to count from
    past = pasts[key]
    waits = list[tuple[int, int] | None]()
    if past.has_own:
        lifted = past.lifted_on
        waits.append(None if lifted is None or lifted > on else _nights(lifted, on, past.stores))
    for parent, moved_on in past.came:
        if moved_on <= on:
            before = _longest(pasts, parent, moved_on, known)
            since = _nights(moved_on, on, past.stores)
            waits.append(None if before is None else (before[0] + since[0], before[1] + since[1]))
    known[key, on] = max(waits) if waits and None not in waits else None  # type: ignore[type-var]
    return known[key, on]


def _nights(begin: date, end: date, spans: Iterable[Span]) -> tuple[int, int]:
    """Nights between two days spent out of store and in store."""
    spans = list(spans)
    nights = (begin + ONE_DAY * n for n in range((end - begin).days))
    stored = sum(any(_covers(span, night) for span in spans) for night in nights)
    return (end - begin).days - stored, stored


def _clock(days_out: int, stored: int, spans: Iterable[Span], on: date, limit_days: int | None) -> LotClock:
    in_store = any(_covers(span, on) for span in spans)
    plant_by = None
    if limit_days is not None and not in_store:
        plant_by = on + ONE_DAY * (limit_days - days_out)
    return LotClock(days_out, stored, limit_days, in_store, plant_by)


def _covers(span: Span, night: date) -> bool:
    return span.from_on <= night and (span.until_on is None or night < span.until_on)

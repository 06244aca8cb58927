"""The clock of a lot: days between lifting and planting that it spent neither cold-stored nor heeled in."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

# Days out of store that stock of a type is given before it suffers, and whose word that is.
# Editable: a lot's clock takes the limit as an argument.
DAYS_OUT_OF_STORE = {"bare_root": 7}
SOURCE = "common practice"
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


def limit_for(stock_type: str) -> int | None:
    """Return the days out of store common practice gives a stock type, or None.

    Examples
    --------
    >>> limit_for("bare_root"), limit_for("container")
    (7, None)
    """
    return DAYS_OUT_OF_STORE.get(stock_type)


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
    nights = {lifted_on + ONE_DAY * n for n in range((on - lifted_on).days)}
    stored = sum(any(_covers(span, night) for span in spans) for night in nights)
    days_out = len(nights) - stored
    in_store = any(_covers(span, on) for span in spans)
    plant_by = None
    if limit_days is not None and not in_store:
        plant_by = on + ONE_DAY * (limit_days - days_out)
    return LotClock(days_out, stored, limit_days, in_store, plant_by)


def _covers(span: Span, night: date) -> bool:
    return span.from_on <= night and (span.until_on is None or night < span.until_on)

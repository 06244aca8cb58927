"""What is odd about a record from a phone: it is kept all the same, and a lead is told.

Pure: the time of receipt is an argument. Days are those of the place, instants are UTC.
"""

from datetime import date, datetime, timedelta

CLOCK_SLACK = timedelta(minutes=5)
COLDEST_C, WARMEST_C = -30.0, 45.0  # outside, a thermometer was misread rather than plants kept: our choice


def clock_doubts(clock_offset_ms: int | None) -> list[str]:
    """Say whether the phone's clock was off by more than five minutes.

    >>> clock_doubts(-400_000), clock_doubts(-1200), clock_doubts(None)
    (['clock_skew'], [], [])
    """
    off = clock_offset_ms is not None and abs(clock_offset_ms) > CLOCK_SLACK.total_seconds() * 1000
    return ["clock_skew"] if off else []


def handover_doubts(
    *,
    checked_at: datetime,
    received_at: datetime,
    checked_on: date,
    lifted_on: date | None,
    temperature_c: float | None,
    is_put_away: bool,
) -> list[str]:
    """Return what is odd about a hand-over check, in a fixed order."""
    found = []
    if checked_at > received_at + CLOCK_SLACK:
        found.append("future_date")
    if lifted_on is not None and checked_on < lifted_on:
        found.append("before_lifting")
    if temperature_c is not None and not COLDEST_C <= temperature_c <= WARMEST_C:
        found.append("odd_temperature")
    return [*found, *(["put_away"] if is_put_away else [])]


def walk_doubts(*, walked_on: date, received_on: date, is_put_away: bool) -> list[str]:
    """Return what is odd about a walk, in a fixed order.

    >>> walk_doubts(walked_on=date(2026, 11, 26), received_on=date(2026, 11, 25), is_put_away=False)
    ['future_date']
    """
    found = ["future_date"] if walked_on > received_on else []
    return [*found, *(["put_away"] if is_put_away else [])]

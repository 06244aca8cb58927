"""When replacements can go in, and the last day on which they can be ordered. Today is an argument."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

SLACK_WEEKS = 2  # between delivery and the window's opening; common practice
MOST_YEARS = 30


@dataclass(frozen=True, slots=True)
class Window:
    """A planting window."""

    opens_on: date
    closes_on: date


@dataclass(frozen=True, slots=True)
class ReplantingDates:
    """The window to plant in and the last day to order for it.

    Attributes
    ----------
    window, order_by : see above.
    repeated : the window is a stated one moved by whole years, since no stated one can be met any more.
    """

    window: Window
    order_by: date
    repeated: bool


def replanting_dates(
    windows: Sequence[Window], today: date, lead_time_weeks: int, slack_weeks: int = SLACK_WEEKS
) -> ReplantingDates | None:
    """The next window for which an order can still be placed in time.

    The order date is the opening less the nursery's lead time less the slack. Where every stated window can no
    longer be met, the earliest that can is sought among the same dates of later years.

    Examples
    --------
    >>> autumn = Window(date(2025, 11, 1), date(2026, 2, 28))
    >>> replanting_dates([autumn], date(2025, 7, 1), 12).order_by.isoformat()
    '2025-07-26'
    >>> late = replanting_dates([autumn], date(2025, 9, 1), 12)
    >>> late.window.opens_on.isoformat(), late.order_by.isoformat(), late.repeated
    ('2026-11-01', '2026-07-26', True)
    """
    before = timedelta(weeks=lead_time_weeks + slack_weeks)
    for years in range(MOST_YEARS):
        moved = sorted((later(window, years) for window in windows), key=lambda window: window.opens_on)
        for window in moved:
            if window.opens_on - before >= today:
                return ReplantingDates(window, window.opens_on - before, repeated=years > 0)
    return None


def later(window: Window, years: int) -> Window:
    """The same dates some years on; 29 February becomes the 28th where there is none."""
    return Window(moved_by(window.opens_on, years), moved_by(window.closes_on, years))


def moved_by(day: date, years: int) -> date:
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return day.replace(year=day.year + years, day=28)

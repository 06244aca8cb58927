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
    missed : the next stated window that is not over yet, where it is too late to order for it.
    """

    window: Window
    order_by: date
    repeated: bool
    missed: Window | None = None


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
    >>> late.missed == autumn
    True
    """
    before = timedelta(weeks=lead_time_weeks + slack_weeks)
    missed = missed_window(windows, today, before)
    for years in range(MOST_YEARS):
        moved = sorted((later(window, years) for window in windows), key=lambda window: window.opens_on)
        for window in moved:
            if window.opens_on - before >= today:
                return ReplantingDates(window, window.opens_on - before, repeated=years > 0, missed=missed)
    return None


def missed_window(windows: Sequence[Window], today: date, before: timedelta) -> Window | None:
    """The first stated window still open or to come for which the order date has passed."""
    late = [row for row in windows if row.closes_on >= today > row.opens_on - before]
    return min(late, key=lambda row: row.opens_on, default=None)


def later(window: Window, years: int) -> Window:
    """The same dates some years on; 29 February becomes the 28th where there is none."""
    return Window(moved_by(window.opens_on, years), moved_by(window.closes_on, years))


def moved_by(day: date, years: int) -> date:
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return day.replace(year=day.year + years, day=28)

"""How far an order has come: asked, confirmed, arrived, still to come, and how late."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

NOT_PLACED, WAITING, PARTLY, ARRIVED, OVER, SHORT, NOT_SENT = (
    "not_placed", "waiting", "partly", "arrived", "over", "short", "not_sent",
)  # fmt: skip
OPEN = ("placed", "confirmed")  # what may still come


@dataclass(frozen=True, slots=True)
class Came:
    """Plants that came on a day; `returned` of them went back to the nursery since. [plants]"""

    on: date
    quantity: int
    returned: int = 0

    @property
    def kept(self) -> int:
        """What came and was not sent back, never below 0."""
        return max(0, self.quantity - self.returned)


@dataclass(frozen=True, slots=True)
class LineProgress:
    """How far one line of an order has come. [plants]

    Attributes
    ----------
    asked : int
        What the line asks for.
    confirmed : int or None
        What the nursery said it will send; None until it said so.
    arrived : int
        What came, less what was sent back.
    returned : int
        What was sent back.
    to_come : int
        What the nursery still owes: confirmed (else asked) less arrived, never below 0.
    over : int
        What came beyond that.
    state : str
        One of the words of this module: `not_placed`, `waiting`, `partly`, `arrived`, `over`, `short` (closed or
        called off with something missing), `not_sent` (the nursery confirmed none).
    late_days : int
        Days since the day it was due while something is still to come of an open order, else 0.
    whole_on : date or None
        The day by which everything expected had come; None while it has not.
    """

    asked: int
    confirmed: int | None
    arrived: int
    returned: int
    to_come: int
    over: int
    state: str
    late_days: int
    whole_on: date | None

    @property
    def expected(self) -> int:
        """What is to come in all: as confirmed, else as asked."""
        return self.asked if self.confirmed is None else self.confirmed

    @property
    def not_confirmed(self) -> int:
        """What was asked for and the nursery will not send."""
        return max(0, self.asked - self.expected)

    @property
    def is_late(self) -> bool:
        return self.late_days > 0


def due_on(promised_on: date | None, needed_by: date | None) -> date | None:
    """The day an order is held to: what the nursery promised, else the day it is needed by.

    >>> due_on(None, date(2027, 2, 8))
    datetime.date(2027, 2, 8)
    """
    return promised_on or needed_by


def line_progress(
    asked: int, confirmed: int | None, came: Iterable[Came], *, status: str, due: date | None, today: date
) -> LineProgress:
    """Work out how far a line has come.

    Parameters
    ----------
    asked : int
        Plants asked for, at least 1. [plants]
    confirmed : int or None
        Plants the nursery confirmed; 0 is an answer too. [plants]
    came : iterable of Came
        Every part that came, in any order.
    status : str
        `draft`, `placed`, `confirmed`, `closed` or `cancelled`.
    due : date or None
        See `due_on`. The day itself is not late.
    today : date
        The organisation's day.

    Returns
    -------
    LineProgress

    Raises
    ------
    ValueError
        If a number is negative, or nothing was asked for.

    Notes
    -----
    Arithmetic. Plants that were sent back count as not come, so that they are owed again until the order is closed.

    Examples
    --------
    >>> line_progress(
    ...     640, 600, [Came(date(2027, 2, 5), 400)],
    ...     status="confirmed", due=date(2027, 2, 8), today=date(2027, 2, 10),
    ... )
    LineProgress(asked=640, confirmed=600, arrived=400, returned=0, to_come=200, over=0, state='partly', \
late_days=2, whole_on=None)
    """
    parts = list(came)
    numbers = [
        asked - 1,
        confirmed or 0,
        *(part.quantity for part in parts),
        *(part.returned for part in parts),
    ]
    if min(numbers) < 0:
        raise ValueError("A line asks for at least 1 plant, and no number of plants is negative.")
    expected = asked if confirmed is None else confirmed
    arrived = sum(part.kept for part in parts)
    to_come, over = max(0, expected - arrived), max(0, arrived - expected)
    is_late = status in OPEN and to_come > 0 and due is not None and today > due
    return LineProgress(
        asked=asked, confirmed=confirmed, arrived=arrived, returned=sum(part.returned for part in parts),
        to_come=to_come, over=over, state=_state(status, expected, arrived),
        late_days=(today - due).days if is_late and due is not None else 0,
        whole_on=_whole_on(parts, expected),
    )  # fmt: skip


def _whole_on(parts: Iterable[Came], expected: int) -> date | None:
    so_far = 0
    for part in sorted(parts, key=lambda each: each.on):
        so_far += part.kept
        if so_far >= expected > 0:
            return part.on
    return None


def _state(status: str, expected: int, arrived: int) -> str:
    if status == "draft":
        return NOT_PLACED
    if arrived > expected:
        return OVER
    if expected == 0:
        return NOT_SENT
    if arrived == expected:
        return ARRIVED
    if status not in OPEN:
        return SHORT
    return PARTLY if arrived else WAITING


def shared_out(came: Iterable[Came], room: Mapping[int, int]) -> dict[int, list[Came]]:
    """Share parts that name no line over the lines they may belong to: the first line is filled first.

    Parameters
    ----------
    came : iterable of Came
        Parts that came for any of the lines; what was sent back of a part is taken off the lines it filled last.
    room : mapping of line id to int
        What each line still wants, in the order of the lines. [plants]

    Returns
    -------
    dict of line id to list of Came
        Nothing is lost: what is more than all lines want goes to the last one.

    Examples
    --------
    >>> found = shared_out([Came(date(2027, 2, 5), 500)], {7: 300, 8: 100})
    >>> [part.quantity for part in found[7]], [part.quantity for part in found[8]]
    ([300], [200])
    >>> shared_out([Came(date(2027, 2, 5), 300, returned=80)], {7: 300, 8: 100})[7][0].kept
    220
    """
    lines = list(room)
    left = {line: max(0, wanted) for line, wanted in room.items()}
    found: dict[int, list[Came]] = {line: [] for line in lines}
    for part in sorted(came, key=lambda each: each.on):
        rest, back, taken = part.quantity, min(part.returned, part.quantity), list[tuple[int, int]]()
        for line in lines:
            share = rest if line == lines[-1] else min(rest, left[line])
            taken.append((line, share))
            rest -= share
        for line, share in reversed(taken):
            gone = min(share, back)
            back -= gone
            left[line] = max(0, left[line] - (share - gone))
            if share:
                found[line].append(Came(part.on, share, gone))
    return found


@dataclass(frozen=True, slots=True)
class Kept:
    """How an order stands to the day it was due.

    Attributes
    ----------
    is_whole : bool
        Everything that was confirmed (else asked) came.
    late_days : int
        Days from the day it was due to the day all of it had come, or to today while it is open and owed; 0 when
        it came in time, and 0 when it was closed with something missing.
    missing : int
        Plants that never came, or have not come yet. [plants]
    """

    is_whole: bool
    late_days: int
    missing: int

    @property
    def is_in_time(self) -> bool:
        return self.is_whole and self.late_days == 0


def kept(lines: Sequence[LineProgress], *, status: str, due: date | None, today: date) -> Kept | None:
    """Say how an order was kept to its day, or None where that cannot be said yet.

    None for a draft or an order called off, without a day it was due, or while it may still come in time. Lines the
    nursery confirmed none of are left out: they were refused in time, not late.

    >>> line = line_progress(10, None, [Came(date(2027, 2, 9), 10)],
    ...     status="closed", due=date(2027, 2, 8), today=date(2027, 3, 1))
    >>> kept([line], status="closed", due=date(2027, 2, 8), today=date(2027, 3, 1))
    Kept(is_whole=True, late_days=1, missing=0)
    """
    owed = [line for line in lines if line.expected]
    if status not in (*OPEN, "closed") or due is None or not owed:
        return None
    missing = sum(line.to_come for line in owed)
    if missing and status in OPEN and today <= due:
        return None
    if missing:
        return Kept(False, (today - due).days if status in OPEN else 0, missing)
    return Kept(True, max(0, *((line.whole_on - due).days for line in owed if line.whole_on is not None)), 0)

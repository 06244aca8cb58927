"""When somebody should walk through planted ground and look, and how soon a sign that was seen wants doing.

A walk is due some weeks after planting and within days of a storm, frost, fire, flood or heat. The fewest walks
that answer every cause are asked for: one walk settles every cause whose time had come when it was made.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

PLANTING = "planting"
# Days after an event from which a walk tells something, and until which it still helps; common practice.
EVENT_DAYS: Mapping[str, tuple[int, int]] = {
    "storm": (1, 5),
    "frost": (3, 10),  # harm by frost shows only after some days
    "fire": (2, 14),
    "flood": (1, 7),
    "heat": (0, 7),
    "other": (0, 7),
}
HARM = frozenset({"storm", "fire", "flood"})  # the ground may still hurt people afterwards
# Days within which a sign wants doing; one that was only noted has no date. Common practice.
URGENCY_DAYS: Mapping[str, int] = {"now": 1, "week": 7, "month": 30}


@dataclass(frozen=True, slots=True)
class WalkRules:
    """When walks are due; every number is common practice and can be set.

    Attributes
    ----------
    after_planting : first and last day after the last planting day, 2 to 6 weeks. [d]
    after_event : first and last day after an event, by its kind. [d]
    lapses_after : so long after its last day a walk answers nothing any more; the next count does. [d]
    """

    after_planting: tuple[int, int] = (14, 42)
    after_event: Mapping[str, tuple[int, int]] = field(default_factory=lambda: EVENT_DAYS)
    lapses_after: int = 60


@dataclass(frozen=True, slots=True)
class Cause:
    """Why a walk is wanted: `planting`, or the kind of an event; `key` says which row it was."""

    kind: str
    happened_on: date
    key: str = ""


@dataclass(frozen=True, slots=True)
class WalkDue:
    """One walk that answers one or more causes.

    Attributes
    ----------
    causes : what it answers, the earliest first.
    opens_on : from this day it answers one of them at least.
    due_from, due_by : from `due_from` it answers all of them; after `due_by` it is late for the first.
    """

    causes: tuple[Cause, ...]
    opens_on: date
    due_from: date
    due_by: date

    @property
    def shown_from(self) -> date:
        """First day of the span to show: `due_from`, or `opens_on` where the first is late before the last opens.

        >>> late, storm = Cause("planting", date(2026, 1, 1)), Cause("storm", date(2026, 3, 1))
        >>> [due] = walks_due([late, storm], [], date(2026, 3, 2))
        >>> [str(day) for day in (due.due_from, due.shown_from, due.due_by)]
        ['2026-03-02', '2026-01-15', '2026-02-12']
        """
        return self.due_from if self.due_from <= self.due_by else self.opens_on

    @property
    def is_after_harm(self) -> bool:
        """Whether the ground itself may hurt who walks it: limbs, embers, banks."""
        return any(cause.kind in HARM for cause in self.causes)

    def has_begun(self, today: date) -> bool:
        """Whether a walk would show something by now."""
        return self.opens_on <= today

    def is_late(self, today: date) -> bool:
        """Whether its last day has passed."""
        return self.due_by < today


def window_of(cause: Cause, rules: WalkRules | None = None) -> tuple[date, date]:
    """First and last day of the walk a cause asks for.

    Raises
    ------
    ValueError
        If the rules know no such cause.

    Examples
    --------
    >>> [str(day) for day in window_of(Cause("planting", date(2026, 2, 1)))]
    ['2026-02-15', '2026-03-15']
    """
    rules = rules or WalkRules()
    days = rules.after_planting if cause.kind == PLANTING else rules.after_event.get(cause.kind)
    if days is None:
        raise ValueError(f"no rule says when to walk after {cause.kind!r}.")
    first, last = days
    return cause.happened_on + timedelta(days=first), cause.happened_on + timedelta(days=last)


def walks_due(
    causes: Iterable[Cause], walked_on: Sequence[date], today: date, rules: WalkRules | None = None
) -> list[WalkDue]:
    """Walks that one piece of ground still waits for, the soonest first.

    Parameters
    ----------
    causes : what happened there; one told twice counts once.
    walked_on : days on which somebody walked it.
    today : a cause that lapsed before this day is left out; one to come is not.
    rules : when a walk is due.

    Raises
    ------
    ValueError
        If the rules know no such cause.

    Notes
    -----
    A cause is settled by a walk on or after the first day of its window. What is left is met by the fewest
    walks: windows in the order they close, each walk taking in every cause whose window has opened by then
    (a late walk can still be made today).

    Examples
    --------
    >>> storm, planted = Cause("storm", date(2026, 2, 26)), Cause("planting", date(2026, 2, 1))
    >>> [due] = walks_due([storm, planted], [], date(2026, 2, 27))
    >>> [cause.kind for cause in due.causes], str(due.due_from), str(due.due_by)
    (['planting', 'storm'], '2026-02-27', '2026-03-03')
    >>> walks_due([storm, planted], [date(2026, 2, 27)], date(2026, 3, 1))
    []
    """
    rules = rules or WalkRules()
    lapsed = today - timedelta(days=rules.lapses_after)
    last_walk = max(walked_on, default=date.min)
    windows = {cause: window_of(cause, rules) for cause in causes}
    left = {
        cause: window
        for cause, window in windows.items()
        if last_walk < window[0] and window[1] >= lapsed and cause.happened_on <= today
    }
    found = []
    while left:
        due_by = min(last for _first, last in left.values())
        taken = {cause: left[cause] for cause in left if left[cause][0] <= max(due_by, today)}
        order = sorted(taken, key=lambda cause: (cause.happened_on, cause.kind, cause.key))
        firsts = [first for first, _last in taken.values()]
        found.append(WalkDue(tuple(order), min(firsts), max(firsts), due_by))
        left = {cause: window for cause, window in left.items() if cause not in taken}
    return found


def settled_on(cause: Cause, walked_on: Iterable[date], rules: WalkRules | None = None) -> date | None:
    """Day of the first walk that answered a cause; None while none did.

    >>> settled_on(Cause("storm", date(2026, 1, 1)), [date(2026, 1, 1), date(2026, 1, 4)])
    datetime.date(2026, 1, 4)
    """
    first, _last = window_of(cause, rules)
    return min((day for day in walked_on if day >= first), default=None)


@dataclass(frozen=True, slots=True)
class SignTask:
    """What a sign asks for: the kind of care, and the days within which it is wanted."""

    kind: str
    due_from: date
    due_by: date


# What is done about a sign. Stock inside comes of a fence, and wilting is answered by water.
KIND_OF_SIGN: Mapping[str, str] = {
    "stock_in": "fence",
    "fence": "fence",
    "guards": "guards",
    "weeds": "weeding",
    "invaders": "invasive",
    "dry": "water",
    "loose": "stakes",
    "disease": "revisit",
    "damage": "other",
    "other": "other",
}


def task_for_sign(sign: str, urgency: str, seen_on: date) -> SignTask | None:
    """What a sign asks for, or None where it was only noted.

    Raises
    ------
    ValueError
        If the sign or the urgency is not known.

    Examples
    --------
    >>> task_for_sign("dry", "week", date(2026, 7, 1))
    SignTask(kind='water', due_from=datetime.date(2026, 7, 1), due_by=datetime.date(2026, 7, 8))
    >>> task_for_sign("fence", "note", date(2026, 7, 1)) is None
    True
    """
    if sign not in KIND_OF_SIGN:
        raise ValueError(f"unknown sign {sign!r}.")
    if urgency == "note":
        return None
    if urgency not in URGENCY_DAYS:
        raise ValueError(f"unknown urgency {urgency!r}.")
    return SignTask(KIND_OF_SIGN[sign], seen_on, seen_on + timedelta(days=URGENCY_DAYS[urgency]))

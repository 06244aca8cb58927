"""What the readings of a hand-over suggest: accept, hold or reject, each with its reasons. A person decides."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from projects.calc.lot_sampling import ACCEPT, HOLD, REJECT, Points, limits_of_bad, sample_verdict

WORST_LAST = (ACCEPT, HOLD, REJECT)
BARE_ROOTS = frozenset({"bare_root", "wildling"})  # roots in the open: nobody accepts them unseen
COOLED = frozenset({"bare_root", "cutting", "wildling"})  # travels cold; a plug or a ball does not have to
ROOTS = {
    "moist": ACCEPT, "drying": HOLD, "dry": REJECT, "spoilt": REJECT, "frozen": HOLD, "not_seen": HOLD,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Limits:
    """What readings are held against. Every figure is a setting; the defaults name their source.

    Attributes
    ----------
    warmest_c : unfrozen stock that travels cold is no warmer on delivery: 36 °F, US Forest Service field handling
        pages, which ask for 32 to 34 °F in the box. [°C]
    warmest_store_c : no warmer in a store for hardwoods: 40 °F (the same pages: 33 to 40 °F). [°C]
    ice_c : at and below this the water in a box is frozen, or near it: 32 °F.
    coldest_roots_c : roots of container stock are hurt below 25 °F (the same pages, of southern species). [°C]
    hottest_c : among the roots of any plants, whoever holds them; common practice. [°C]
    minutes_open : bare roots in the open, common practice. [min]
    points : what a sample should tell apart, common practice.
    """

    warmest_c: float = 2.2
    warmest_store_c: float = 4.4
    ice_c: float = 0.0
    coldest_roots_c: float = -3.9
    hottest_c: float = 30.0
    minutes_open: int = 5
    points: Points = field(default_factory=Points)

    def warmest(self, stock_type: str, point: str) -> float:
        """How warm plants may be where they change hands; infinite where that is not held against them. [°C]

        A crew has taken plants out of the cold to plant them; a plug or a ball does not travel cold.

        >>> [Limits().warmest("bare_root", point) for point in ("arrival", "field_store", "crew")]
        [2.2, 4.4, inf]
        """
        if stock_type not in COOLED or point == "crew":
            return math.inf
        return self.warmest_store_c if point == "field_store" else self.warmest_c


@dataclass(frozen=True, slots=True)
class Readings:
    """What was seen and measured at a hand-over; None where it was not.

    How warm plants are is not held against a crew that has taken them out of the cold to plant them.
    """

    stock_type: str
    lot_size: int
    root_condition: str = "not_seen"
    box_temperature_c: float | None = None
    minutes_exposed: int | None = None
    sample_size: int | None = None
    sample_bad: int | None = None
    accept_up_to: int | None = None
    days_out: int | None = None
    limit_days: int | None = None
    point: str = "arrival"


@dataclass(frozen=True, slots=True)
class Reason:
    """One reading, what it suggests by itself, and the figures its words need."""

    code: str
    verdict: str
    figures: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Suggestion:
    """The gravest of all reasons; `verdict` is empty where nothing was looked at."""

    verdict: str
    reasons: tuple[Reason, ...]

    @property
    def grave(self) -> tuple[Reason, ...]:
        """The reasons that keep it from being accepted, the gravest first."""
        against = [one for one in self.reasons if one.verdict != ACCEPT]
        return tuple(sorted(against, key=lambda one: -WORST_LAST.index(one.verdict)))


def suggest(readings: Readings, limits: Limits) -> Suggestion:
    """Suggest a verdict from readings.

    Parameters
    ----------
    readings : Readings
    limits : Limits

    Returns
    -------
    Suggestion

    Raises
    ------
    ValueError
        If the condition of the roots is unknown, or more of a sample is bad than was looked at.

    Notes
    -----
    A missing count never counts against a lot here: it is a matter of the order, not of the plants.

    Examples
    --------
    >>> cold = Readings("bare_root", 900, "moist", box_temperature_c=1.0, sample_size=67, sample_bad=2)
    >>> suggest(cold, Limits()).verdict
    'accept'
    >>> warm = Readings("bare_root", 900, "dry", box_temperature_c=9.0)
    >>> found = suggest(warm, Limits())
    >>> found.verdict, [reason.code for reason in found.grave]
    ('reject', ['roots_dry', 'box_warm'])
    """
    reasons = [
        *_roots(readings),
        *_temperature(readings, limits),
        *_exposure(readings, limits),
        *_sample(readings, limits),
        *_waiting(readings),
    ]
    looked = [one for one in reasons if one.code != "roots_not_seen"]
    verdict = max((one.verdict for one in reasons), key=WORST_LAST.index) if looked else ""
    return Suggestion(verdict, tuple(reasons))


def _roots(readings: Readings) -> Iterable[Reason]:
    verdict = ROOTS.get(readings.root_condition)
    if verdict is None:
        raise ValueError(f"Unknown condition of roots {readings.root_condition!r}.")
    if readings.root_condition == "not_seen" and readings.stock_type not in BARE_ROOTS:
        return
    yield Reason(f"roots_{readings.root_condition}", verdict)


def _temperature(readings: Readings, limits: Limits) -> Iterable[Reason]:
    celsius = readings.box_temperature_c
    if celsius is None:
        return
    warmest = limits.warmest(readings.stock_type, readings.point)
    if celsius > warmest:
        yield Reason("box_warm", HOLD, (celsius, warmest))
    elif readings.stock_type != "direct_seed" and celsius > limits.hottest_c:
        yield Reason("box_hot", HOLD, (celsius, limits.hottest_c))
    elif readings.stock_type == "container" and celsius < limits.coldest_roots_c:
        yield Reason("box_icy", HOLD, (celsius, limits.coldest_roots_c))
    elif readings.stock_type != "direct_seed" and celsius < limits.ice_c:
        yield Reason("box_frozen", HOLD, (celsius,))
    else:
        yield Reason("box_fine", ACCEPT, (celsius,))


def _exposure(readings: Readings, limits: Limits) -> Iterable[Reason]:
    minutes = readings.minutes_exposed
    if minutes is not None and readings.stock_type in BARE_ROOTS:
        verdict = HOLD if minutes > limits.minutes_open else ACCEPT
        code = "open_long" if verdict == HOLD else "open_short"
        yield Reason(code, verdict, (minutes, limits.minutes_open))


def _sample(readings: Readings, limits: Limits) -> Iterable[Reason]:
    size, bad = readings.sample_size, readings.sample_bad
    if not size or bad is None:
        return
    lot_size = max(readings.lot_size, size)
    verdict = sample_verdict(lot_size, size, bad, limits.points, accept_up_to=readings.accept_up_to)
    bounds = limits_of_bad(lot_size, size, bad)
    yield Reason(f"sample_{verdict}", verdict, (bad, size, bounds.lower, bounds.upper))


def _waiting(readings: Readings) -> Iterable[Reason]:
    out, limit = readings.days_out, readings.limit_days
    if out is not None and limit is not None and out > limit:
        yield Reason("waited_long", HOLD, (out, limit))

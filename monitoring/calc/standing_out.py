"""What lies outside its usual range in the way trees went from the nursery into the ground.

Limits are common practice unless a source is named beside them; none of them says what killed a tree.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from projects.calc.handover_verdict import Limits

WELL_PLANTED = 0.9  # of the trees looked at; common practice
LIMITS = Limits()  # the same as a look at a hand-over is held against
BAD_ROOTS = ("drying", "dry", "spoilt", "frozen")
KINDS = (  # the order in which they are told
    "waited", "roots", "verdict", "sample", "warm_box", "other_plants", "late", "short", "no_go", "badly_planted",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Found:
    """One fact outside its usual range: its kind, and the numbers and codes its words need."""

    kind: str
    facts: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Check:
    """One look at a lot at a hand-over. `box_c` in °C; `sample` is (looked at, unfit, accepted up to) in plants."""

    point: str
    roots: str
    verdict: str
    box_c: float | None = None
    sample: tuple[int, int, int] | None = None


@dataclass(frozen=True, slots=True)
class Handling:
    """How plants of a lot came. Every field may be unknown.

    Attributes
    ----------
    stock_type : code of the stock type.
    out : fewest and most days out of store when planted. [days]
    stored : most days in store before planting. [days]
    limit, limit_source : days out of store such stock is given, and whose word that is. [days]
    checks : looks at the lot where it changed hands, the latest first.
    days_late : delivery after the promised day, else after the day it was needed. [days]
    asked, received : of the order line and of what came for it. [plants]
    asked_for, came : words for species and stock type; unlike where something else was sent.
    """

    stock_type: str
    out: tuple[int, int] | None = None
    stored: int = 0
    limit: int | None = None
    limit_source: str = ""
    checks: tuple[Check, ...] = ()
    days_late: int | None = None
    asked: int | None = None
    received: int | None = None
    asked_for: str = ""
    came: str = ""


def of_lot(told: Handling) -> list[Found]:
    """Return what is unusual about how a lot came, in the order of `KINDS`.

    Examples
    --------
    >>> of_lot(Handling("bare_root", out=(11, 11), limit=7, limit_source="a handbook"))
    [Found(kind='waited', facts={'least': 11, 'most': 11, 'stored': 0, 'limit': 7, 'source': 'a handbook'})]
    >>> of_lot(Handling("bare_root", out=(2, 7), stored=41, limit=7))
    []
    """
    found = [*_waited(told), *_seen(told), *_against_the_order(told)]
    return sorted(found, key=lambda one: KINDS.index(one.kind))


def _waited(told: Handling) -> Iterator[Found]:
    if told.out is not None and told.limit is not None and told.out[1] > told.limit:
        facts = {"least": told.out[0], "most": told.out[1], "stored": told.stored, "limit": told.limit}
        yield Found("waited", facts | {"source": told.limit_source})


def _seen(told: Handling) -> Iterator[Found]:
    """The last look that says each thing: an earlier one is not undone, but the latest is told."""
    for check in told.checks:
        if check.roots in BAD_ROOTS:
            yield Found("roots", {"roots": check.roots, "point": check.point})
            break
    for check in told.checks:
        if check.verdict != "accept":
            yield Found("verdict", {"verdict": check.verdict, "point": check.point})
            break
    for check in told.checks:
        if check.sample is not None and check.sample[1] > check.sample[2]:
            size, bad, limit = check.sample
            yield Found("sample", {"size": size, "bad": bad, "limit": limit, "point": check.point})
            break
    for check in told.checks:
        limit = LIMITS.warmest(told.stock_type, check.point)
        if check.box_c is not None and check.box_c > limit:
            yield Found("warm_box", {"box_c": check.box_c, "limit_c": limit, "point": check.point})
            break


def _against_the_order(told: Handling) -> Iterator[Found]:
    if told.asked_for and told.asked_for != told.came:
        yield Found("other_plants", {"asked_for": told.asked_for, "came": told.came})
    if told.days_late is not None and told.days_late > 0:
        yield Found("late", {"days": told.days_late})
    if told.asked is not None and told.received is not None and told.received < told.asked:
        yield Found("short", {"asked": told.asked, "received": told.received})


def of_day(inspected: int, acceptable: int, *, is_no_go: bool = False) -> list[Found]:
    """Return what is unusual about a day of planting; `inspected` and `acceptable` in trees, 0 where none were.

    Raises
    ------
    ValueError
        If more trees are acceptable than inspected.

    Examples
    --------
    >>> [one.kind for one in of_day(50, 38)], of_day(50, 45), of_day(0, 0)
    (['badly_planted'], [], [])
    """
    if acceptable > inspected:
        raise ValueError(f"{acceptable} of {inspected} trees cannot be acceptable.")
    found = [Found("no_go", {})] if is_no_go else []
    if inspected and acceptable / inspected < WELL_PLANTED:
        found.append(
            Found("badly_planted", {"inspected": inspected, "acceptable": acceptable, "share": WELL_PLANTED})
        )
    return found

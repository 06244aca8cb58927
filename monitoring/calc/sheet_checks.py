"""What is odd about a visit, from facts alone. Odd is stored and flagged, never dropped."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

CLOCK_SLACK_MS = 5 * 60 * 1000


@dataclass(frozen=True)
class LineFacts:
    """The count lines that share baselines, usually one, beside them. Numbers of trees or spots.

    `planted` is None without a baseline; `not_found` is None when left as the remainder, and then
    `also_not_found` were stated by other lines; `removed` were taken out on purpose by the day of the visit.
    `revived` are tagged spots seen dead at an earlier visit and alive at this one.
    """

    planted: int | None
    alive: int
    dead_stem: int
    empty_spot: int
    not_found: int | None
    not_assessed: int
    resprout: int
    removed: int = 0
    earlier_possible: int | None = None  # alive + not found + not assessed at the visit before
    planted_on: date | None = None
    also_not_found: int = 0
    revived: int = 0


@dataclass(frozen=True)
class VisitFacts:
    """The dates around a visit; `received_on` is the day it arrived in the site's own time zone."""

    observed_on: date
    received_on: date
    closes_on: date | None
    clock_offset_ms: int | None
    on_round: bool = True
    is_counted: bool = True  # neither destroyed nor missing


def remainder(line: LineFacts) -> int:
    """Return the not-found count: as stated, else what the line leaves open, never below 0.

    Examples
    --------
    >>> remainder(LineFacts(20, 14, 2, 1, None, 0, 0))
    3
    """
    if line.not_found is not None:
        return line.not_found
    return max(0, open_balance(line))


def open_balance(line: LineFacts) -> int:
    """Return planted − removed − everything the line accounts for; 0 without a baseline."""
    if line.planted is None:
        return 0
    not_found = (line.not_found or 0) + line.also_not_found
    seen = line.alive + line.dead_stem + line.empty_spot + line.not_assessed + not_found
    return line.planted - line.removed - seen


def line_flags(line: LineFacts, observed_on: date) -> list[str]:
    """Return what is odd about one line."""
    flags = []
    if line.planted is not None:
        if line.alive > max(0, line.planted - line.removed):
            flags.append("over_baseline")
        elif open_balance(line) < 0 or (line.not_found is not None and open_balance(line) != 0):
            flags.append("sum_open")
    if line.planted_on is not None and observed_on < line.planted_on:
        flags.append("before_planting")
    if not_explained(line) > 0:
        flags.append("contradicts_earlier")
    return flags


def not_explained(line: LineFacts) -> int:
    """Return how many living trees an earlier visit speaks against, resprouts left out.

    A tree that was not found may turn up alive: it was possible all along, and the later visit is believed.

    Examples
    --------
    >>> not_explained(LineFacts(20, 15, 0, 0, None, 0, 0, earlier_possible=10))
    5
    >>> not_explained(LineFacts(20, 9, 0, 0, None, 0, 1, earlier_possible=10, revived=3))
    2
    """
    beyond = 0 if line.earlier_possible is None else line.alive - line.earlier_possible
    return max(beyond, line.revived) - line.resprout


def visit_flags(visit: VisitFacts, lines: Sequence[LineFacts]) -> list[str]:
    """Return every flag of a visit once, in a fixed order."""
    flags = []
    if visit.observed_on > visit.received_on:
        flags.append("future_date")
    if visit.closes_on is not None and visit.closes_on < visit.observed_on <= visit.received_on:
        flags.append("late")
    if visit.clock_offset_ms is not None and abs(visit.clock_offset_ms) > CLOCK_SLACK_MS:
        flags.append("clock_skew")
    if not visit.on_round:
        flags.append("not_on_this_round")
    if not visit.is_counted and any(line.alive for line in lines):
        flags.append("sum_open")  # living trees in a plot that is said to be destroyed or not reached
    for line in lines:
        flags.extend(line_flags(line, visit.observed_on))
    return sorted(set(flags))

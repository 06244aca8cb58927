"""Records that were refused, as their pages show them: what, when, from which phone, why."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from monitoring.selectors import log_records
from monitoring.selectors.log_records import About
from projects.access import Actor
from projects.models import RefusedItem

MOST_SHOWN = 60_000  # characters of a record on a page


@dataclass(frozen=True)
class Fault:
    """One reason in words, and the place in the record it is about."""

    place: str
    detail: str


@dataclass(frozen=True)
class RefusedRow:
    """A refused record and what is known about it."""

    item: RefusedItem
    about: About
    faults: list[Fault]


def rows(actor: Actor, items: Iterable[RefusedItem]) -> list[RefusedRow]:
    """Return refused records with their reasons and the plot each names; one query for all plots."""
    items = list(items)
    found = log_records.about(actor, [item.body for item in items])
    return [RefusedRow(item, told, faults(item)) for item, told in zip(items, found, strict=True)]


def faults(item: RefusedItem) -> list[Fault]:
    """Return the reasons a record was refused for, as they were told to the phone."""
    problem: dict[str, Any] = item.problem if isinstance(item.problem, dict) else {}
    errors = problem.get("errors") or []
    return [Fault(place_words(row.get("pointer", "")), row.get("detail", "")) for row in errors]


def place_words(pointer: str) -> str:
    """Return a JSON pointer as a way people can follow: "/lines/0/dead_stem" is "line 1, dead stem"."""
    steps = [step.replace("~1", "/").replace("~0", "~") for step in pointer.split("/")[1:]]
    words: list[str] = []
    for step in steps:
        if step.isdecimal() and words:
            words[-1] = f"{words[-1].removesuffix('s')} {int(step) + 1}"
        else:
            words.append(step.replace("_", " "))
    return ", ".join(words)


@dataclass(frozen=True)
class Text:
    """A record's text on a page, and how much of it was left off."""

    shown: str
    left_off: int


def texts(item: RefusedItem) -> tuple[Text, Text]:
    """Return a record laid out to be read, and as it came."""
    return cut(log_records.pretty(item.body)), cut(item.body)


def cut(text: str) -> Text:
    return Text(text[:MOST_SHOWN], max(0, len(text) - MOST_SHOWN))

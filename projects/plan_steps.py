"""The way through planning: numbered steps, each saying in one line what stands and what is missing."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.urls import NoReverseMatch, reverse

from projects.access import Actor
from projects.models import Plan

DONE, OPEN, STOP = "done", "open", "stop"  # enough is there; something is missing; it holds the plan up


@dataclass(frozen=True)
class PlanStep:
    """One step of the way; `order` is its place, and a step registered again at that place takes it over.

    `read` returns {"state": one of the above, "words": one line, "url": where to go or ""} and, if it likes,
    "places": a list of {"name", "state", "words", "url"}, one for each site or block.
    """

    order: int
    title: Any
    read: Callable[[Actor, Plan], Mapping[str, Any]]


registered: dict[int, PlanStep] = {}


def register(step: PlanStep) -> None:
    """Add a step, or put a better one in the place of another."""
    registered[step.order] = step


def page_of(actor: Actor, name: str, uid: Any = None) -> str:
    """The address of a page of this organisation, empty where there is no such page."""
    place = {"org": actor.organisation.slug} | ({} if uid is None else {"uid": uid})
    try:
        return reverse(f"projects:{name}", kwargs=place)
    except NoReverseMatch:
        return ""

"""Panels that higher apps add to the pages of this one, so that arrows keep pointing one way."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from projects.access import Actor


@dataclass(frozen=True)
class Panel:
    """A piece of a page: its template and the reader that fills it."""

    template: str
    read: Callable[[Actor, Any], dict[str, Any]]
    verb: str


registered: dict[str, list[Panel]] = {}


def register(page: str, panel: Panel) -> None:
    """Add a panel to a page: "home", "site", "project", "money", "block", "cohort", or one of stock and planting."""
    if panel not in registered.setdefault(page, []):
        registered[page].append(panel)


def filled(page: str, actor: Actor, subject: Any) -> list[dict[str, Any]]:
    """Return [{template, data}] for the panels of a page that this actor may see."""
    return [
        {"template": panel.template, "data": panel.read(actor, subject)}
        for panel in registered.get(page, [])
        if actor.may(panel.verb)
    ]

"""What the page on how a member is told shows."""

from dataclasses import dataclass
from typing import Any

from projects import access
from projects.access import Actor
from projects.reminder_words import Sentence, registered
from projects.selectors.weekly_letter import letters_of


@dataclass(frozen=True)
class Rule:
    """When a kind of thing is told, and what settles it."""

    name: Sentence
    told: Sentence
    settled: Sentence


def page_for(actor: Actor) -> dict[str, Any]:
    """The member's letters and calendar addresses, and the rules of what their role is told."""
    feeds = access.visible_calendar_feeds(actor).filter(revoked_at__isnull=True)
    return {
        "letters": letters_of(actor.membership) if actor.membership else [],
        "feeds": list(feeds),
        "rules": rules_for(actor),
    }


def rules_for(actor: Actor) -> list[Rule]:
    """The rules of every kind this actor is told of."""
    return [
        Rule(kind.name, kind.told, kind.settled)
        for kind in registered.values()
        if kind.name and actor.may(kind.verb)
    ]

"""What a reminder says and whom it concerns: its words are built when it is shown, so that they can be translated.

Each app registers the kinds it makes, each with the verb its button asks for: nobody is offered what their
role may not do. A kind without words is shown plainly to those who decide for the whole organisation.
"""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db.models import Q
from django.utils.functional import Promise
from django.utils.translation import gettext as _

from projects.access import Actor

logger = logging.getLogger(__name__)
Facts = dict[str, Any]
Words = dict[str, str]
Sentence = str | Promise
PLAIN_VERB = "reminder.snooze"  # who sees a kind nobody registered


@dataclass(frozen=True)
class Kind:
    """How a kind is worded, the verb its button asks for, and the rule by which it comes and goes.

    `name` says what it asks, `told` from when it is told, `settled` what ends it: all three for people to read.
    `narrowed` gives the condition under which it concerns an actor who has the verb; without it, it always does.
    """

    words: Callable[[Facts], Words]
    verb: str
    name: Sentence = ""
    told: Sentence = ""
    settled: Sentence = ""
    narrowed: Callable[[Actor], Q] | None = None


registered: dict[str, Kind] = {}


def register(
    kind: str,
    words: Callable[[Facts], Words],
    verb: str,
    *,
    name: Sentence = "",
    told: Sentence = "",
    settled: Sentence = "",
    narrowed: Callable[[Actor], Q] | None = None,
) -> None:
    """Register a kind: a function from facts to title, reason and action (the button), and the button's verb."""
    registered[kind] = Kind(words, verb, name, told, settled, narrowed)


def verb_of(kind: str) -> str:
    """Return the verb a person needs to act on a kind."""
    return registered[kind].verb if kind in registered else PLAIN_VERB


def is_narrowed(kind: str) -> bool:
    """Whether a kind concerns some of those who have its verb only where it is their own."""
    return kind in registered and registered[kind].narrowed is not None


def concerning(actor: Actor) -> Q:
    """Return the condition on reminders whose button this actor may press."""
    kinds = {name: kind for name, kind in registered.items() if actor.may(kind.verb)}
    wanted = Q(kind__in=[name for name, kind in kinds.items() if kind.narrowed is None])
    for name, kind in kinds.items():
        if kind.narrowed is not None:
            wanted |= Q(kind=name) & kind.narrowed(actor)
    return wanted | ~Q(kind__in=list(registered)) if actor.may(PLAIN_VERB) else wanted


def words_for(kind: str, facts: Facts) -> Words:
    """Return {"title", "reason", "action"} of a reminder."""
    if kind in registered:
        try:
            return registered[kind].words(facts)
        except (KeyError, TypeError, ValueError):  # facts of an older release; the next renewal mends them
            logger.warning("The facts of a %s reminder do not fit its words.", kind)
    return {"title": kind.replace("_", " "), "reason": "", "action": _("Look at it")}

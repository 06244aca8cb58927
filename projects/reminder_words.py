"""What a reminder says and whom it concerns: its words are built when it is shown, so that they can be translated.

Each app registers the kinds it makes, each with the verb its button asks for: nobody is offered what their
role may not do. A kind without words is shown plainly to those who decide for the whole organisation.
"""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import figures
from projects.access import Actor
from projects.models import CareKind, ConsentKind

logger = logging.getLogger(__name__)
Facts = dict[str, Any]
Words = dict[str, str]
PLAIN_VERB = "reminder.snooze"  # who sees a kind nobody registered


@dataclass(frozen=True)
class Kind:
    """How a kind is worded, and the verb a person needs for what its button offers."""

    words: Callable[[Facts], Words]
    verb: str


registered: dict[str, Kind] = {}


def register(kind: str, words: Callable[[Facts], Words], verb: str) -> None:
    """Register a kind: a function from facts to title, reason and action (the button), and the button's verb."""
    registered[kind] = Kind(words, verb)


def concerning(actor: Actor) -> Q:
    """Return the condition on reminders whose button this actor may press."""
    wanted = Q(kind__in=[name for name, kind in registered.items() if actor.may(kind.verb)])
    return wanted | ~Q(kind__in=list(registered)) if actor.may(PLAIN_VERB) else wanted


def words_for(kind: str, facts: Facts) -> Words:
    """Return {"title", "reason", "action"} of a reminder."""
    if kind in registered:
        try:
            return registered[kind].words(facts)
        except (KeyError, TypeError, ValueError):  # facts of an older release; the next renewal mends them
            logger.warning("The facts of a %s reminder do not fit its words.", kind)
    return {"title": kind.replace("_", " "), "reason": "", "action": _("Look at it")}


def _plant_by(facts: Facts) -> Words:
    left, out = facts["days_left"], facts["days_out"]
    passed = ngettext("%(n)s day out of store", "%(n)s days out of store", out) % {"n": out}
    if left < 0:
        room = ngettext("%(n)s day too many", "%(n)s days too many", -left) % {"n": -left}
    else:
        room = ngettext("%(n)s day left", "%(n)s days left", left) % {"n": left}
    return {
        "title": _("Plant lot %(lot)s or return it to store") % {"lot": facts["lot"]},
        "reason": _("%(passed)s, %(room)s (%(source)s). %(hand)s of %(received)s still on hand%(counted)s.")
        % {
            "passed": passed,
            "room": room,
            "source": _("common practice"),
            "hand": figures.quantity(facts["on_hand"]),
            "received": figures.quantity(facts["received"]),
            "counted": "" if facts["is_counted"] else _(", not counted"),
        },
        "action": _("Open the lot"),
    }


def _lot_left(facts: Facts) -> Words:
    return {
        "title": _("Say what became of lot %(lot)s") % {"lot": facts["lot"]},
        "reason": _("%(hand)s of %(received)s are still on hand in the records, %(days)s days out of store.")
        % {
            "hand": figures.quantity(facts["on_hand"]),
            "received": figures.quantity(facts["received"]),
            "days": figures.quantity(facts["days_out"]),
        },
        "action": _("Open the lot"),
    }


def _lot_gap(facts: Facts) -> Words:
    gap = facts["gap"]
    if gap > 0:
        reason = _("%(n)s of %(received)s received are nowhere in the records.")
    else:
        reason = _("%(n)s more left the lot than the %(received)s received.")
    return {
        "title": _("Find the gap in lot %(lot)s") % {"lot": facts["lot"]},
        "reason": reason % {"n": figures.quantity(abs(gap)), "received": figures.quantity(facts["received"])},
        "action": _("Open the lot"),
    }


def _order_by(facts: Facts) -> Words:
    needed = date.fromisoformat(facts["needed_by"]) if facts.get("needed_by") else None
    return {
        "title": _("Place the order for %(what)s") % {"what": facts["what"]},
        "reason": _("Draft for %(project)s%(needed)s.")
        % {
            "project": facts["project"],
            "needed": _(", needed by %(day)s") % {"day": figures.day(needed)} if needed else "",
        },
        "action": _("Open the order"),
    }


def _care_due(facts: Facts) -> Words:
    kind = dict(CareKind.choices).get(facts["kind"], "")
    starts = date.fromisoformat(facts["due_from"]) if facts.get("due_from") else None
    window = _("; it helps from %(day)s") % {"day": figures.day(starts)} if starts else ""
    return {
        "title": _("%(block)s: %(what)s") % {"block": facts["block"], "what": facts["what"]},
        "reason": _("Aftercare, %(kind)s%(window)s.") % {"kind": kind, "window": window},
        "action": _("Open the block"),
    }


def _consent_ends(facts: Facts) -> Words:
    kind = str(dict(ConsentKind.choices).get(facts["kind"], facts["kind"]))
    return {
        "title": _("%(site)s: renew what ends, or say that it ended") % {"site": facts["site"]},
        "reason": _("%(kind)s. Trees outlive agreements: who looks after them from then on?")
        % {"kind": kind[:1].upper() + kind[1:]},
        "action": _("Open rights and agreements"),
    }


register("plant_by", _plant_by, "lot.view")
register("lot_left", _lot_left, "lot.view")
register("lot_gap", _lot_gap, "lot.view")
register("order_by", _order_by, "order.view")
register("care_due", _care_due, "care.edit")
register("consent_ends", _consent_ends, "assessment.view")

"""What a reminder says: built when it is shown, from its kind and facts, so that it can be translated.

Each app registers the kinds it makes. A kind without words is shown plainly rather than hidden.
"""

import logging
from collections.abc import Callable
from datetime import date
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import figures

logger = logging.getLogger(__name__)
Facts = dict[str, Any]
Words = dict[str, str]
registered: dict[str, Callable[[Facts], Words]] = {}


def register(kind: str, words: Callable[[Facts], Words]) -> None:
    """Register the words of a kind: a function from facts to title, reason and action (the button)."""
    registered[kind] = words


def words_for(kind: str, facts: Facts) -> Words:
    """Return {"title", "reason", "action"} of a reminder."""
    if kind in registered:
        try:
            return registered[kind](facts)
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


register("plant_by", _plant_by)
register("lot_left", _lot_left)
register("lot_gap", _lot_gap)
register("order_by", _order_by)

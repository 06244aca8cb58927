"""What the reminders of lots and orders say, built from their facts when they are shown."""

from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from projects import figures
from projects.reminder_words import Facts, Words, register


def register_words() -> None:
    """Hand the words of every kind to the list of reminders."""
    register(
        "plant_by", plant_by, "lot.view",
        name=gettext_lazy("Plant a lot or return it to store"),
        told=gettext_lazy("while stock with a limit is out of the ground and out of store"),
        settled=gettext_lazy("none of it is on hand, or it is in store; from 31 days past its limit it is asked about"),
    )  # fmt: skip
    register(
        "lot_left", lot_left, "lot.view",
        name=gettext_lazy("Say what became of a lot"),
        told=gettext_lazy("from the 31st day past its limit"),
        settled=gettext_lazy("its ledger says where its plants are"),
    )  # fmt: skip
    register(
        "lot_gap", lot_gap, "lot.view",
        name=gettext_lazy("Find the gap in a lot"),
        told=gettext_lazy("once the ledger of a lot does not add up"),
        settled=gettext_lazy("it does"),
    )  # fmt: skip
    register(
        "check_held", check_held, "lot.view",
        name=gettext_lazy("Check a lot on hold again"),
        told=gettext_lazy("once a check put the lot on hold"),
        settled=gettext_lazy("a later check accepts or rejects it, or none of it is on hand"),
    )  # fmt: skip
    register(
        "order_by", order_by, "order.view",
        name=gettext_lazy("Place an order"),
        told=gettext_lazy("while an order with a latest order date is a draft"),
        settled=gettext_lazy("it is placed or called off"),
    )  # fmt: skip
    register(
        "late_delivery", late_delivery, "order.view",
        name=gettext_lazy("Ask where an order is"),
        told=gettext_lazy("from the day after the promised one, or else the day it was needed by"),
        settled=gettext_lazy("all of it has come, another day is promised, or the order is closed or called off"),
    )  # fmt: skip


def plant_by(facts: Facts) -> Words:
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
            "source": _(facts["source"]),
            "hand": figures.quantity(facts["on_hand"]),
            "received": figures.quantity(facts["received"]),
            "counted": "" if facts["is_counted"] else _(", not counted"),
        },
        "action": _("Open the lot"),
    }


def lot_left(facts: Facts) -> Words:
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


def lot_gap(facts: Facts) -> Words:
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


def order_by(facts: Facts) -> Words:
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


def check_held(facts: Facts) -> Words:
    return {
        "title": _("Check lot %(lot)s again, which is on hold") % {"lot": facts["lot"]},
        "reason": _("Held on %(day)s; %(hand)s are on hand, and none of them should be planted before that.")
        % {
            "day": figures.day(date.fromisoformat(facts["held_on"])),
            "hand": figures.quantity(facts["on_hand"]),
        },
        "action": _("Open the lot"),
    }


def late_delivery(facts: Facts) -> Words:
    missing = ngettext("%(n)s plant", "%(n)s plants", facts["missing"]) % {
        "n": figures.quantity(facts["missing"])
    }
    return {
        "title": _("Ask where the rest of the order is: %(what)s") % {"what": facts["what"]},
        "reason": (
            _("%(missing)s for %(project)s have not come; the day is the one the nursery promised.")
            if facts["is_promised"]
            else _(
                "%(missing)s for %(project)s have not come; nothing was promised, the day is when they were needed."
            )
        )
        % {"missing": missing, "project": facts["project"]},
        "action": _("Open the order"),
    }

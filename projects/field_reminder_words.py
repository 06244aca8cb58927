"""What the reminders of blocks and sites say, built from their facts when they are shown."""

from datetime import date

from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects import figures
from projects.access import Actor
from projects.models import CareKind, CareTask, ConsentKind, EventKind, StockType
from projects.reminder_words import Facts, Words, register


def register_words() -> None:
    """Hand the words of every kind to the list of reminders."""
    register(
        "care_due", care_due, "care.do",
        name=gettext_lazy("Do a piece of aftercare"),
        told=gettext_lazy("from 30 days before its window opens; at once where it has none"),
        settled=gettext_lazy("it is done or no longer needed"),
        narrowed=_own_care,
    )  # fmt: skip
    register(
        "window_closing", window_closing, "planting.view",
        name=gettext_lazy("Plant before a window closes"),
        told=gettext_lazy("from 21 days before its last day (common practice), while something meant for it waits"),
        settled=gettext_lazy("everything planned, ordered and on hand for it is planted, or the window has closed"),
    )  # fmt: skip
    register(
        "crew_day_open", crew_day_open, "planting.view",
        name=gettext_lazy("Close a planting day"),
        told=gettext_lazy("from the day after it, on the clock of its site"),
        settled=gettext_lazy("it is closed or called off"),
    )  # fmt: skip
    register(
        "walk_due", walk_due, "walk.view",
        name=gettext_lazy("Walk through a block"),
        told=gettext_lazy("from the day on which a walk would show something"),
        settled=gettext_lazy("somebody walked there since, or too much time has passed for it to tell anything"),
    )  # fmt: skip
    register(
        "consent_ends", consent_ends, "assessment.view",
        name=gettext_lazy("Renew an agreement or permit"),
        told=gettext_lazy("from 90 days before it ends"),
        settled=gettext_lazy("it is withdrawn, or a later one of its kind with the same party stands"),
    )  # fmt: skip


def _own_care(actor: Actor) -> Q:
    """Who leads field work is told of every task, a volunteer of their own."""
    if actor.may("care.edit"):
        return Q()
    own = CareTask.objects.filter(organisation=actor.organisation, assigned_to__isnull=False)
    return Q(subject_uid__in=own.filter(assigned_to=actor.person).values("uid"))


def care_due(facts: Facts) -> Words:
    kind = dict(CareKind.choices).get(facts["kind"], "")
    starts = date.fromisoformat(facts["due_from"]) if facts.get("due_from") else None
    first = date.fromisoformat(facts["first_due_by"]) if facts.get("first_due_by") else None
    window = _("; it helps from %(day)s") % {"day": figures.day(starts)} if starts else ""
    window += _("; put off from %(day)s") % {"day": figures.day(first)} if first else ""
    return {
        "title": _("%(block)s: %(what)s") % {"block": facts["block"], "what": facts["what"]},
        "reason": _("Aftercare, %(kind)s%(window)s.") % {"kind": kind, "window": window},
        "action": _("Open the task"),
    }


def consent_ends(facts: Facts) -> Words:
    kind = str(dict(ConsentKind.choices).get(facts["kind"], facts["kind"]))
    return {
        "title": _("%(site)s: renew what ends, or say that it ended") % {"site": facts["site"]},
        "reason": _("%(kind)s. Trees outlive agreements: who looks after them from then on?")
        % {"kind": kind[:1].upper() + kind[1:]},
        "action": _("Open rights and agreements"),
    }


def window_closing(facts: Facts) -> Words:
    parts = [
        text % {"n": figures.quantity(facts[name])}
        for name, text in (
            ("planned", _("%(n)s planned and not planted")),
            ("ordered", _("%(n)s ordered and not come")),
            ("on_hand", _("%(n)s on hand")),
        )
        if facts[name]
    ]
    stock_type = dict(StockType.choices).get(facts["stock_type"], facts["stock_type"])
    reason = _("The window for %(stock_type)s closes on this day; %(parts)s.") % {
        "stock_type": stock_type,
        "parts": ", ".join(parts),
    }
    return {
        "title": _("Plant %(block)s before its window closes, or move it to the next") % facts,
        "reason": f"{reason} {_('Afterwards: %(because)s.') % facts}" if facts["because"] else reason,
        "action": _("Open the block"),
    }


def crew_day_open(facts: Facts) -> Words:
    return {
        "title": _("Say how the planting day in %(block)s ended") % facts,
        "reason": _(
            "It was set for %(day)s, and nobody has closed it or called it off: what was planted is not counted yet."
        )
        % {"day": figures.day(date.fromisoformat(facts["day"]))},
        "action": _("Open the planting day"),
    }


def walk_due(facts: Facts) -> Words:
    events = dict(EventKind.choices)
    causes = [
        _("planting") if cause["kind"] == "planting" else str(events.get(cause["kind"], cause["kind"]))
        for cause in facts["causes"]
    ]
    return {
        "title": _("Walk through %(block)s and look") % facts,
        "reason": _("After %(causes)s; a walk shows most from %(day)s on (common practice).")
        % {"causes": ", ".join(causes), "day": figures.day(date.fromisoformat(facts["due_from"]))},
        "action": _("Open the block"),
    }

"""The way from a figure back to lots, days and crews, in words: what stands out, and what is not known."""

from collections.abc import Callable, Sequence
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from monitoring.calc.standing_out import Found
from projects import figures
from projects.models import CheckVerdict, HandoverPoint, RootCondition, StockType

HERE, PLANTED, CAME = (
    gettext_noop("Where these trees came from"),
    gettext_noop("What was planted, and how it fares"),
    gettext_noop("What came from here, and how it fares"),
)
TITLES = {
    "block": HERE, "cohort": HERE, "project": HERE,
    "lot": gettext_noop("Where this lot came from, and what became of it"),
    "delivery": CAME, "order": CAME, "nursery": CAME, "day": PLANTED, "crew": PLANTED, "crew_day": PLANTED,
}  # fmt: skip
Facts = dict[str, Any]


def _waited(facts: Facts, stock: str) -> str:
    least, most, stored = facts["least"], facts["most"], facts["stored"]
    days = ngettext("%(n)s day", "%(n)s days", most) % {"n": figures.quantity(most)}
    if least != most:
        days = _("%(least)s to %(days)s") % {"least": figures.quantity(least), "days": days}
    words = {
        "days": days, "stock": stock, "limit": figures.quantity(facts["limit"]),
        "source": facts["source"], "stored": figures.quantity(stored),
    }  # fmt: skip
    if stored:
        return (
            _(
                "%(days)s out of store between lifting and planting, besides %(stored)s in store; %(stock)s is given"
                " %(limit)s (%(source)s)"
            )
            % words
        )
    return (
        _("%(days)s between lifting and planting, uncooled; %(stock)s is given %(limit)s (%(source)s)")
        % words
    )


def _roots(facts: Facts, stock: str) -> str:
    return _("roots %(roots)s at a hand-over (%(point)s)") % {
        "roots": RootCondition(facts["roots"]).label, "point": HandoverPoint(facts["point"]).label,
    }  # fmt: skip


def _verdict(facts: Facts, stock: str) -> str:
    return _("the verdict at a hand-over (%(point)s) was: %(verdict)s") % {
        "verdict": CheckVerdict(facts["verdict"]).label, "point": HandoverPoint(facts["point"]).label,
    }  # fmt: skip


def _sample(facts: Facts, stock: str) -> str:
    numbers = {name: figures.quantity(facts[name]) for name in ("size", "bad", "limit")}
    return _(
        "%(bad)s of %(size)s plants looked at closely were not fit to plant; up to %(limit)s was accepted"
    ) % (numbers)


def _warm_box(facts: Facts, stock: str) -> str:
    return _(
        "%(box)s °C in the box at a hand-over (%(point)s); handling pages of the US Forest Service ask for no more than"
        " %(limit)s °C for unfrozen stock there"
    ) % {
        "box": figures.quantity(facts["box_c"], 1), "limit": figures.quantity(facts["limit_c"], 1),
        "point": HandoverPoint(facts["point"]).label,
    }  # fmt: skip


def _other_plants(facts: Facts, stock: str) -> str:
    return _("asked for was %(asked_for)s, and %(came)s came") % facts


def _late(facts: Facts, stock: str) -> str:
    days = facts["days"]
    return ngettext("%(n)s day later than it was to come", "%(n)s days later than it was to come", days) % {
        "n": figures.quantity(days)
    }


def _short(facts: Facts, stock: str) -> str:
    return _("%(received)s came of %(asked)s asked for") % {
        name: figures.quantity(facts[name]) for name in ("received", "asked")
    }


def _no_go(facts: Facts, stock: str) -> str:
    return _("planted on a day that had been decided as no-go")


def _badly_planted(facts: Facts, stock: str) -> str:
    return _(
        "%(acceptable)s of %(inspected)s trees looked at were planted as they should be; common practice asks for"
        " %(share)s"
    ) % {
        "acceptable": figures.quantity(facts["acceptable"]), "inspected": figures.quantity(facts["inspected"]),
        "share": figures.percent(facts["share"]),
    }  # fmt: skip


SENTENCES: dict[str, Callable[[Facts, str], str]] = {
    "waited": _waited, "roots": _roots, "verdict": _verdict, "sample": _sample, "warm_box": _warm_box,
    "other_plants": _other_plants, "late": _late, "short": _short, "no_go": _no_go,
    "badly_planted": _badly_planted,
}  # fmt: skip


def stands_out(found: Found, stock_type: str = "") -> str:
    """One fact outside its usual range, as a sentence without its full stop.

    >>> long = {"least": 11, "most": 11, "stored": 0, "limit": 7, "source": "a handbook"}
    >>> stands_out(Found("waited", long), "bare_root")
    '11 days between lifting and planting, uncooled; bare-root is given 7 (a handbook)'
    >>> stands_out(Found("waited", long | {"least": 9, "stored": 4}), "wildling")
    '9 to 11 days out of store between lifting and planting, besides 4 in store; wildling is given 7 (a handbook)'
    >>> stands_out(Found("roots", {"roots": "dry", "point": "crew"}))
    'roots dry at a hand-over (handed to the crew)'
    """
    stock = str(StockType(stock_type).label) if stock_type in StockType.values else stock_type
    return SENTENCES[found.kind](found.facts, stock)


def not_written_down(no_lifting: Sequence[str], no_check: Sequence[str], no_lot: int) -> list[str]:
    """What nobody wrote down and so nobody can say, a sentence each.

    >>> not_written_down(["A", "B"], [], 0)
    ['No day of lifting was written down for A, B, so nobody can say how long they waited.']
    """
    told = []
    if no_lot:
        told.append(
            ngettext(
                "The lot of %(n)s planting is not known.",
                "The lots of %(n)s plantings are not known.",
                no_lot,
            )
            % {"n": figures.quantity(no_lot)}
        )
    if no_lifting:
        told.append(
            _("No day of lifting was written down for %(lots)s, so nobody can say how long they waited.")
            % {"lots": ", ".join(no_lifting)}
        )
    if no_check:
        told.append(
            _("No check at a hand-over was written down for %(lots)s.") % {"lots": ", ".join(no_check)}
        )
    return told

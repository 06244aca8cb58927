"""What the trust page says in sentences: which outcome could come of what is open, and how two counts differ."""

from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from monitoring.result_words import OUTCOMES, points, points_between, said
from projects.figures import quantity

PARTS = {
    "cases": gettext_noop("Doubtful counts, each at its lowest and its highest reading"),
    "missing": gettext_noop("Plots without a count: nothing lives there, or all of it does"),
    "not_found": gettext_noop("Trees not found: all dead, or all alive"),
    "uncertain": gettext_noop("Living trees of uncertain origin: natural seedlings, or planted"),
}


def part_words(code: str) -> str:
    """What is open, and its two ends."""
    return said(PARTS, code)


def turn_words(span: Any) -> str:
    """Whether deciding what is open could change the outcome, in a sentence; empty where there is none."""
    if not span.outcomes:
        return ""
    ends = [said(OUTCOMES, code) for code in span.outcomes]
    if not span.could_turn:
        return _("Whatever is decided, the outcome stays: %(outcome)s.") % {"outcome": ends[0]}
    if len(ends) == 1:
        return _("Once decided, the outcome would be: %(outcome)s.") % {"outcome": ends[0]}
    return _("The outcome could still turn: %(worst)s at worst, %(best)s at best.") % {
        "worst": ends[0],
        "best": ends[-1],
    }


def difference_words(figure: Any) -> str:
    """The mean difference of two counts and what to expect of one more plot."""
    facts = figure.facts
    _mean, low, high = facts["trees"]
    words = _(
        "On average the first count found %(mean)s against the second (%(limits)s). In one more plot the"
        " difference may be expected anywhere in %(between)s of its trees (%(low)s to %(high)s trees)."
    )
    told = {
        "mean": points(figure.value),
        "limits": points_between(facts["mean_lower"], facts["mean_upper"]),
        "between": points_between(figure.lower, figure.upper),
        "low": trees(low),
        "high": trees(high),
    }
    return words % told


def trees(number: float | None) -> str:
    return quantity(number, 1)


def leaning_words(figure: Any) -> str:
    """Whether one of the two counts more than the other."""
    lower, upper = figure.facts["mean_lower"], figure.facts["mean_upper"]
    if lower > 0 or upper < 0:
        return _("One of the two counts leans to one side more than chance would have it.")
    return _("Neither leans to one side more than chance would have it.")

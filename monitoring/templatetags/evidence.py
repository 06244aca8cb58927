"""Template tags of the page of evidence: codes of the coverage study in words, shares to a tenth of a per cent."""

from collections.abc import Mapping
from typing import Any

from django import template
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from monitoring import evidence_words
from projects import figures

register = template.Library()

register.filter("study_method_words", evidence_words.method_words)
register.filter("form_words", evidence_words.form_words)
register.filter("rule_words", evidence_words.rule_words)


@register.filter
def percent1(share: float) -> str:
    """A share in per cent, to a tenth."""
    return _("%(number)s %%") % {"number": figures.quantity(100 * share, 1)}


@register.filter
def decimals(number: float, places: int) -> str:
    """A number with so many decimals."""
    return figures.quantity(number, places)


@register.filter
def share_of(part: float, whole: float) -> str:
    """A part of a whole in per cent."""
    return percent1(part / whole) if whole else figures.NO_FIGURE


@register.filter
def times(ratio: float) -> str:
    """A ratio as a multiple."""
    return _("%(number)s times") % {"number": figures.quantity(ratio, 2)}


@register.filter
def place_words(cell: Mapping[str, Any]) -> str:
    """What a kind of block or project is like: plots, survival, correlation within plots."""
    facts = {
        "survival": figures.percent(cell["survival"]), "icc": figures.quantity(cell["icc"], 2),
        "plots": figures.plots(cell["plots"]),
    }  # fmt: skip
    if cell["blocks"] == 1:
        return _("%(plots)s, %(survival)s alive, correlation %(icc)s") % facts
    blocks = ngettext("%(number)s block", "%(number)s blocks", cell["blocks"]) % {"number": cell["blocks"]}
    facts["blocks"] = blocks
    facts["form"] = evidence_words.form_words(cell["form"])
    return _("%(blocks)s of %(plots)s, %(survival)s alive, correlation %(icc)s, %(form)s") % facts


@register.simple_tag
def on_average(rate: Mapping[str, float]) -> str:
    """A rate of wrong outcomes: on average, and in the worst kind of block."""
    worst = _("%(share)s in the worst kind") % {"share": percent1(rate["worst"])}
    return format_html("{} <small>{}</small>", percent1(rate["mean"]), worst)

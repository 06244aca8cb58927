"""Template filters for looks at lots where they changed hands."""

from django import template
from django.utils.translation import gettext as _

from projects import figures
from projects.calc.handover_verdict import Suggestion
from projects.handover_words import because
from projects.models import CheckVerdict
from projects.selectors.handovers import Looked

register = template.Library()


@register.filter
def suggested_words(suggested: Suggestion) -> str:
    """A suggestion in words, with its gravest reasons."""
    return f"{CheckVerdict(suggested.verdict).label} ({because(suggested)})"


@register.filter
def reading_words(row: Looked) -> str:
    """What was read, one thing after the other; what was not read is left out."""
    check = row.check
    told = []
    if check.counted is not None:
        told.append(_("%(n)s counted") % {"n": figures.quantity(check.counted)})
    if check.root_condition != "not_seen":
        told.append(_("roots %(state)s") % {"state": check.get_root_condition_display()})
    if check.box_temperature_c is not None:
        told.append(_("%(c)s °C") % {"c": figures.quantity(check.box_temperature_c, 1)})
    if check.minutes_exposed is not None:
        told.append(_("%(n)s minutes in the open") % {"n": figures.quantity(check.minutes_exposed)})
    if check.sample_size is not None:
        words = {"bad": figures.quantity(check.sample_bad), "n": figures.quantity(check.sample_size)}
        told.append(_("%(bad)s of %(n)s not fit") % words)
    if row.sturdiness is not None:
        spread = row.sturdiness
        words = {
            "m": figures.quantity(spread.median, 1), "low": figures.quantity(spread.lowest, 1),
            "high": figures.quantity(spread.highest, 1), "n": figures.quantity(spread.n),
        }  # fmt: skip
        told.append(_("sturdiness %(m)s cm/mm, %(low)s to %(high)s, %(n)s plants") % words)
    return "; ".join(told) or "–"

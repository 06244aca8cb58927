"""Template tags that write figures: always with unit and interval, and what they rest on.

Measures follow the reader's units: the context's `units`, else the organisation's, else metric.
"""

from __future__ import annotations

from datetime import date
from typing import Any

from django import template
from django.template import Context
from django.utils.html import format_html
from django.utils.translation import gettext as _

from projects import figures
from projects.figure_links import explained_at
from projects.interval_bar import draw, limits, read
from projects.reasons import reason_words

register = template.Library()

register.filter("percent", figures.percent)
register.filter("quantity", figures.quantity)
register.filter("money", figures.money)
register.filter("day", figures.day)
register.filter("short_day", figures.short_day)
register.filter("tree_count", figures.trees)
register.filter("plot_count", figures.plots)

UNIT_OF_MEASURE = {
    "survival": "percent",
    "survival_if_found": "percent",
    "survival_removed_alive": "percent",
    "survival_worst_case": "percent",
    "survival_best_case": "percent",
    "survival_cases_low": "percent",
    "survival_cases_high": "percent",
    "survival_missing_dead": "percent",
    "survival_missing_alive": "percent",
    "survival_uncertain_natural": "percent",
    "alive_found": "percent",
    "not_found_later_alive": "percent",
    "share_of_visible_spots": "percent",
    "spot_occupancy": "percent",
    "plots_stocked": "percent",
    "interval_survival": "percent",
    "annual_survival": "percent",
    "stocking": "per_ha",
    "stocking_planted": "per_ha",
    "stocking_natural": "per_ha",
    "stocking_capped": "per_ha",
}
OUTCOMES = ("meets_target", "falls_short", "not_settled", "so_far")


def _units(context: Context) -> figures.Units:
    chosen = context.get("units") or getattr(context.get("organisation"), "units", None)
    return "us" if chosen == "us" else "metric"


def unit_of(estimate: Any, unit: str) -> str:
    """The unit a figure is written in: the one asked for, else its measure's."""
    return unit or UNIT_OF_MEASURE.get(read(estimate, "measure") or "survival", "count")


@register.simple_tag(takes_context=True)
def area(context: Context, area_ha: figures.Number | None) -> str:
    """An area stored in hectares, in the reader's units."""
    return figures.with_unit(area_ha, "ha", _units(context))


@register.simple_tag(takes_context=True)
def measure(context: Context, number: figures.Number | None, unit: str) -> str:
    """A stored measure (`ha`, `m`, `cm`, `per_ha`, `percent`, `count`) in the reader's units."""
    return figures.with_unit(number, unit, _units(context))


@register.simple_tag
def span(starts: date | None, ends: date | None) -> str:
    """Two days as one span."""
    return figures.span(starts, ends)


@register.simple_tag
def rests_on(estimate: Any) -> str:
    """What a figure rests on: "18 plots, 342 trees", and counts that wait for a decision."""
    parts = [figures.plots(read(estimate, "n_plots")), figures.trees(read(estimate, "n_trees"))]
    if flagged := read(estimate, "n_flagged"):
        parts.append(_("%(number)s to be settled") % {"number": figures.quantity(flagged)})
    return ", ".join(parts)


@register.simple_tag(takes_context=True)
def figure(context: Context, estimate: Any, unit: str = "") -> str:
    """A figure in a sentence: value, unit and interval, never the point alone; it leads to how it was computed."""
    value = read(estimate, "value")
    if value is None:
        return _("no figure yet")
    unit, units = unit_of(estimate, unit), _units(context)
    words = format_html(
        '<b>{}</b> <span class="limits">({})</span>',
        figures.with_unit(value, unit, units),
        limits(estimate, unit, units),
    )
    address = _explained(context, estimate) if read(estimate, "uid") else ""
    if not address:
        return format_html('<span class="figure">{}</span>', words)
    title = _("How was this computed?")
    return format_html('<a class="figure how" href="{}" title="{}">{}</a>', address, title, words)


def _explained(context: Context, estimate: Any) -> str:
    return explained_at(getattr(context, "request", None), estimate)


@register.inclusion_tag("partials/interval.html", takes_context=True)
def interval(
    context: Context,
    estimate: Any,
    target: figures.Number | None = None,
    if_found: Any = None,
    unit: str = "",
    scale: figures.Number = 1,
) -> dict[str, Any]:
    """An interval bar against its target; `if_found` is the estimate with trees not found counted alive.

    `scale` is the value at the right edge: 1 for shares, say 2500 for trees per hectare.
    """
    drawn = draw(estimate, target, if_found, unit=unit_of(estimate, unit), units=_units(context), scale=scale)
    return drawn | {"how": _explained(context, estimate)}


@register.filter("reason")
def reason(codes: str | None) -> str:
    """Why there is no figure, or what its reader must be told, in sentences."""
    return reason_words(codes) if codes else ""


@register.inclusion_tag("partials/outcome.html")
def outcome(
    of: Any, more_plots: int | None = None, not_found: int | None = None, claim: bool = False
) -> dict[str, Any]:
    """An outcome by word and shape, of an estimate or given as its code.

    `claim` takes the outcome at the level of claims to funders. An estimate brings its own next step;
    `not_found` (how many trees) turns "go back and look" into a number.
    """
    if isinstance(of, str):
        code, step = of, "look_again" if not_found and not more_plots else "more_plots" if more_plots else ""
    else:
        code, step = read(of, "outcome_claim" if claim else "outcome"), read(of, "next_step")
        more_plots = more_plots if more_plots is not None else read(of, "more_plots")
    if code and code not in OUTCOMES:
        raise template.TemplateSyntaxError(f"Unknown outcome {code!r}; use one of {', '.join(OUTCOMES)}.")
    return {"code": code, "step": step, "more_plots": more_plots, "not_found": not_found}

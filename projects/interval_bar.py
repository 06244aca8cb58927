"""Where the marks of an interval bar fall, and the same bar in words for those who cannot see it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _

from projects import figures
from projects.reasons import reason_words


def read(estimate: Any, name: str) -> Any:
    """One field of an estimate, which may be a model row, a dataclass or a mapping."""
    if isinstance(estimate, Mapping):
        return estimate.get(name)
    return getattr(estimate, name, None)


def position(value: figures.Number, scale: figures.Number) -> str:
    """How far along the bar a value falls, as an SVG length; values beyond the scale stop at its edge.

    >>> position(0.64, 1), position(3000, 2500)
    ('64.00%', '100.00%')
    """
    return f"{min(max(float(value) / float(scale), 0.0), 1.0) * 100:.2f}%"


def width(lower: figures.Number, upper: figures.Number, scale: figures.Number) -> str:
    """The length between two values as an SVG length, never negative."""
    return f"{max(float(position(upper, scale)[:-1]) - float(position(lower, scale)[:-1]), 0.0):.2f}%"


def draw(
    estimate: Any,
    target: figures.Number | None,
    if_found: Any,
    *,
    unit: str,
    units: figures.Units = "metric",
    scale: figures.Number = 1,
) -> dict[str, Any]:
    """Words and positions for `partials/interval.html`; without a value, the reason."""
    value = read(estimate, "value")
    if value is None:
        return {"reason": reason_words(read(estimate, "reason"))}
    found = read(if_found, "value") if if_found is not None else None
    if found is not None and found <= value:
        found = None
    words = _words(estimate, value, target, found, unit, units)
    marks = _marks(estimate, value, target, found, scale)
    return words | marks | {"alternative": _alternative(words)}


def limits(estimate: Any, unit: str, units: figures.Units) -> str:
    """The interval in words; where everything was counted there is none, and that is said."""
    if read(estimate, "method") == "census":
        return _("everything counted")
    return figures.interval_words(read(estimate, "lower"), read(estimate, "upper"), unit, units)


def _words(estimate, value, target, found, unit, units) -> dict[str, str]:
    level = read(estimate, "level") if read(estimate, "method") != "census" else None
    return {
        "value_words": figures.with_unit(value, unit, units),
        "limits_words": limits(estimate, unit, units),
        "level_words": figures.percent(level) if level else "",
        "found_words": "" if found is None else figures.with_unit(found, unit, units),
        "target_words": "" if target is None else figures.with_unit(target, unit, units),
    }


def _marks(estimate, value, target, found, scale) -> dict[str, str]:
    lower, upper = read(estimate, "lower"), read(estimate, "upper")
    marks = {"value_x": position(value, scale)}
    if lower is not None and upper is not None:
        marks |= {"lower_x": position(lower, scale), "band": width(lower, upper, scale)}
    if target is not None:
        marks["target_x"] = position(target, scale)
    if found is not None:
        marks |= {"found_from": position(value, scale), "found": width(value, found, scale)}
    return marks


def _alternative(words: dict[str, str]) -> str:
    level = words["level_words"]
    limits = _("%(level)s interval %(limits)s") % {"level": level, "limits": words["limits_words"]}
    parts = [words["value_words"], limits if level else words["limits_words"]]
    if words["found_words"]:
        parts.append(_("%(share)s if the trees not found live") % {"share": words["found_words"]})
    if words["target_words"]:
        parts.append(_("target %(target)s") % {"target": words["target_words"]})
    return "; ".join(parts)

"""What charts show, as Vega-Lite specifications: intervals against a target, and survival by season.

Colours are those of the pages and differ in lightness, so that the pictures read in greyscale. The same figures
always stand in a table beside the picture.
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"
FONT = "'Source Sans 3', sans-serif"  # quoted: a name that ends in a number is no CSS word
PAPER, SHEET, RULE, RULE_DEEP = "#faf6ec", "#fffdf7", "#d9cfb8", "#8f8468"
INK, INK_SOFT, OCHRE, BAND, BAND_DEEP = "#1d2b4a", "#48557a", "#8a4b00", "#7c8fb8", "#3c5389"
ROW_HEIGHT, WIDTH = 34, 520
PERCENT = {"labelExpr": "format(datum.value * 100, 'd') + '\u00a0%'"}  # as pages write it

CONFIG: dict[str, Any] = {
    "font": FONT,
    "background": SHEET,
    "padding": 14,
    "view": {"stroke": None},
    "axis": {
        "labelColor": INK, "titleColor": INK_SOFT, "labelFontSize": 14, "titleFontSize": 13,
        "titleFontWeight": 600, "gridColor": RULE, "domainColor": RULE_DEEP, "tickColor": RULE_DEEP,
        "labelLimit": 260, "labelPadding": 8,
    },
    "text": {"color": INK, "fontSize": 13},
}  # fmt: skip


@dataclass(frozen=True)
class Interval:
    """One bar: a value between its limits, and the value if the trees not found live."""

    label: str
    value: float
    lower: float
    upper: float
    found: float | None = None


@dataclass(frozen=True)
class Words:
    """The words of a chart, translated by whoever asks for it."""

    axis: str
    target: str = ""


def interval_chart(
    bars: Sequence[Interval], target: float | None, words: Words, *, most: float = 1.0, as_share: bool = True
) -> dict[str, Any]:
    """Horizontal interval bars, one row each, with the target as a line through all of them."""
    values = [asdict(bar) | {"order": number} for number, bar in enumerate(bars)]
    place = {
        "field": "label",
        "type": "nominal",
        "sort": {"field": "order"},
        "axis": {"title": None, "ticks": False},
    }
    scale = {"domain": [0, most], "nice": False}
    axis = {"title": words.axis, "tickCount": 5} | (PERCENT if as_share else {})
    layers = [
        {
            "mark": {"type": "bar", "height": 14, "color": BAND, "stroke": BAND_DEEP, "strokeWidth": 1},
            "encoding": {
                "x": {"field": "lower", "type": "quantitative", "scale": scale, "axis": axis},
                "x2": {"field": "upper"},
                "y": place,
            },
        },
        {
            "transform": [{"filter": "isValid(datum.found) && datum.found > datum.value"}],
            "mark": {"type": "bar", "height": 14, "filled": False, "stroke": INK, "strokeDash": [3, 2]},
            "encoding": {
                "x": {"field": "value", "type": "quantitative"},
                "x2": {"field": "found"},
                "y": place,
            },
        },
        {
            "mark": {"type": "tick", "thickness": 4, "size": 22, "color": INK, "opacity": 1},
            "encoding": {"x": {"field": "value", "type": "quantitative"}, "y": place},
        },
    ]
    if target is not None:
        layers += target_line("x", target, words.target)
    height = ROW_HEIGHT * max(len(values), 1)
    return picture(values, layers, width=WIDTH, height=height)


def season_chart(points: Sequence[Interval], target: float | None, words: Words) -> dict[str, Any]:
    """Survival by season: separate points with their limits, never joined, since plots may differ between rounds."""
    values = [asdict(point) | {"order": number} for number, point in enumerate(points)]
    season = {
        "field": "label", "type": "nominal", "sort": {"field": "order"},
        "axis": {"title": None, "labelAngle": 0, "ticks": False}, "scale": {"padding": 0.6},
    }  # fmt: skip
    share = {"type": "quantitative", "scale": {"domain": [0, 1]}}
    axis = {"title": words.axis, "tickCount": 5} | PERCENT
    layers = [
        {
            "mark": {"type": "bar", "width": 14, "color": BAND, "stroke": BAND_DEEP, "strokeWidth": 1},
            "encoding": {
                "x": season,
                "y": {"field": "lower", "axis": axis} | share,
                "y2": {"field": "upper"},
            },
        },
        {
            "mark": {
                "type": "tick",
                "orient": "horizontal",
                "thickness": 4,
                "size": 22,
                "color": INK,
                "opacity": 1,
            },
            "encoding": {"x": season, "y": {"field": "value"} | share},
        },
    ]
    if target is not None:
        layers += target_line("y", target, words.target)
    return picture(values, layers, width=max(150 * len(values), 220), height=240)


@dataclass(frozen=True)
class CurvePanel:
    """One curve: (age in months, share, lower, upper) of each point; joined by a line or standing by themselves."""

    label: str
    points: Sequence[tuple[float, float, float, float]]
    joined: bool


def curves_chart(
    panels: Sequence[CurvePanel], target: float, check_age_months: float, words: Words, months: str
) -> dict[str, Any]:
    """Survival over age with its limits, a panel a curve, and the target as a tick at the age of its check."""
    values = [
        {
            "label": panel.label, "order": number, "joined": panel.joined, "age": age, "value": value,
            "lower": lower, "upper": upper, "planting": age == 0,
        }
        for number, panel in enumerate(panels)
        for age, value, lower, upper in panel.points
    ]  # fmt: skip
    oldest = max([check_age_months, *(row["age"] for row in values)])
    most = max([1.0, *(row["upper"] for row in values)])
    x = {
        "field": "age", "type": "quantitative", "scale": {"domain": [0, oldest * 1.08], "nice": False},
        "axis": {"title": months, "tickCount": 5, "grid": False},
    }  # fmt: skip
    share = {"type": "quantitative", "scale": {"domain": [0, most], "nice": False}}
    y = {"axis": {"title": words.axis, "tickCount": 5} | PERCENT} | share
    joined = [{"filter": "datum.joined"}]
    counted = [{"filter": "!datum.planting"}]
    layers = [
        {
            "transform": joined,
            "mark": {"type": "area", "color": BAND, "opacity": 0.45},
            "encoding": {"x": x, "y": {"field": "lower"} | y, "y2": {"field": "upper"}},
        },
        {
            "transform": joined,
            "mark": {"type": "line", "color": INK, "strokeWidth": 2},
            "encoding": {"x": x, "y": {"field": "value"} | y},
        },
        {
            "transform": counted,
            "mark": {"type": "rule", "color": BAND_DEEP, "strokeWidth": 5, "opacity": 0.8},
            "encoding": {"x": x, "y": {"field": "lower"} | y, "y2": {"field": "upper"}},
        },
        {
            "transform": counted,
            "mark": {"type": "point", "filled": True, "color": INK, "size": 60, "opacity": 1},
            "encoding": {"x": x, "y": {"field": "value"} | y},
        },
        *target_at_age(target, check_age_months, oldest, words.target),
    ]
    alone = len(panels) == 1
    size = {"width": WIDTH if alone else 250, "height": 240 if alone else 170}
    if alone:
        return picture(values, layers, **size)
    header = {
        "title": None,
        "labelFontSize": 14,
        "labelColor": INK,
        "labelFontWeight": 600,
        "labelAnchor": "start",
    }
    facet = {"field": "label", "type": "nominal", "sort": {"field": "order"}, "header": header}
    return {
        "$schema": SCHEMA, "config": CONFIG, "data": {"values": values}, "facet": facet, "columns": 2,
        "spec": {"layer": layers, **size},
    }  # fmt: skip


def target_at_age(target: float, age: float, oldest: float, words: str) -> list[dict[str, Any]]:
    """The target at the age at which it is checked: an ochre tick on a thin stem, with its words at the foot."""
    row = [
        {
            "from": max(age - oldest * 0.04, 0),
            "to": age + oldest * 0.04,
            "age": age,
            "target": target,
            "foot": 0,
        }
    ]
    stem = {"x": {"field": "age", "type": "quantitative"}, "y": {"field": "foot", "type": "quantitative"}}
    late = age > oldest * 0.5
    align = {"align": "right", "dx": -7} if late else {"align": "left", "dx": 7}
    return [
        {
            "data": {"values": row},
            "mark": {"type": "rule", "color": OCHRE, "strokeWidth": 1.5, "strokeDash": [3, 3]},
            "encoding": stem | {"y2": {"field": "target"}},
        },
        {
            "data": {"values": row},
            "mark": {"type": "rule", "color": OCHRE, "strokeWidth": 4},
            "encoding": {
                "x": {"field": "from", "type": "quantitative"},
                "x2": {"field": "to"},
                "y": {"field": "target", "type": "quantitative"},
            },
        },
        {
            "data": {"values": row},
            "mark": {"type": "text", "text": words, "color": OCHRE, "fontWeight": 600, "dy": -10, **align},
            "encoding": stem,
        },
    ]


def target_line(side: str, target: float, words: str) -> list[dict[str, Any]]:
    """The target: an ochre line with its words at the end."""
    other = {"x": {"value": 4}} if side == "y" else {"y": {"value": -8}}
    place = {side: {"datum": target, "type": "quantitative"}}
    align = {"align": "left", "dy": -7} if side == "y" else {"align": "center"}
    return [
        {"mark": {"type": "rule", "color": OCHRE, "strokeWidth": 2.5}, "encoding": place},
        {
            "data": {"values": [{}]},
            "mark": {"type": "text", "text": words, "color": OCHRE, "fontWeight": 600, **align},
            "encoding": place | other,
        },
    ]


def picture(values: list[dict[str, Any]], layers: list[dict[str, Any]], **size: int) -> dict[str, Any]:
    return {"$schema": SCHEMA, "config": CONFIG, "data": {"values": values}, "layer": layers, **size}

"""The chance that a survey settles the question, against its number of plots, as a Vega-Lite specification."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from monitoring.charts.specs import BAND_DEEP, INK, OCHRE, PERCENT, SHEET, WIDTH, picture

HEIGHT = 240


@dataclass(frozen=True)
class Chance:
    """One number of plots and how often such a survey settles the question."""

    plots: int
    settled: float


@dataclass(frozen=True)
class ChanceWords:
    """The words of the chart, translated by whoever asks for it."""

    plots: str
    settled: str
    chosen: str


def chance_chart(rows: Sequence[Chance], chosen: int | None, words: ChanceWords) -> dict[str, Any]:
    """A line through the chances, with the number of plots that reaches the wish marked."""
    values = [asdict(row) for row in rows]
    x = {
        "field": "plots",
        "type": "quantitative",
        "scale": {"zero": True, "nice": False},
        "axis": {"title": words.plots, "tickMinStep": 1, "grid": False},
    }
    y = {
        "field": "settled",
        "type": "quantitative",
        "scale": {"domain": [0, 1]},
        "axis": {"title": words.settled, "tickCount": 5} | PERCENT,
    }
    layers: list[dict[str, Any]] = [
        {"mark": {"type": "line", "color": BAND_DEEP, "strokeWidth": 2}, "encoding": {"x": x, "y": y}},
        {
            "mark": {"type": "point", "filled": True, "fill": SHEET, "stroke": INK, "size": 60, "opacity": 1},
            "encoding": {"x": x, "y": y},
        },
    ]
    if chosen is not None:
        layers += chosen_line(chosen, words.chosen)
    return picture(values, layers, width=WIDTH, height=HEIGHT)


def chosen_line(chosen: int, words: str) -> list[dict[str, Any]]:
    """The row that reaches the wish: an ochre line with its words."""
    place = {"x": {"datum": chosen, "type": "quantitative"}}
    return [
        {"mark": {"type": "rule", "color": OCHRE, "strokeWidth": 2.5}, "encoding": place},
        {
            "data": {"values": [{}]},
            "mark": {"type": "text", "text": words, "color": OCHRE, "fontWeight": 600, "align": "center"},
            "encoding": place | {"y": {"value": -8}},
        },
    ]

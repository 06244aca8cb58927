"""The picture of the coverage study: a mark for each made-up block, by how often its interval held the truth."""

from collections.abc import Sequence
from typing import Any

from django.utils.translation import gettext as _

from monitoring.charts.specs import BAND_DEEP, PERCENT, ROW_HEIGHT, WIDTH, Words, picture, target_line
from monitoring.evidence_words import short_method_words
from projects import figures

NOMINAL = 0.95


def coverage_picture(cells: Sequence[dict[str, Any]]) -> tuple[dict[str, Any], str]:
    """Specification and title of the picture; `cells` with `method` and `covered`."""
    marks = [(short_method_words(cell["method"]), float(cell["covered"])) for cell in cells]
    words = Words(
        _("share of made-up surveys whose interval held the truth"),
        _("aimed at: %(share)s") % {"share": figures.percent(NOMINAL)},
    )
    return coverage_chart(marks, words), _(
        "How often a 95 % interval held the truth, one mark for each kind of block"
    )


def coverage_chart(marks: Sequence[tuple[str, float]], words: Words) -> dict[str, Any]:
    """One row for each method, one upright mark for each cell of the grid, the level aimed at as a line."""
    order = list(dict.fromkeys(label for label, _covered in marks))
    values = [{"label": label, "covered": covered} for label, covered in marks]
    least = min((covered for _label, covered in marks), default=0.5)
    scale = {"domain": [min(0.9, int(least * 10) / 10), 1], "nice": False}
    layers: list[dict[str, Any]] = [
        {
            "mark": {"type": "tick", "thickness": 1.5, "size": 20, "color": BAND_DEEP, "opacity": 0.7},
            "encoding": {
                "x": {
                    "field": "covered",
                    "type": "quantitative",
                    "scale": scale,
                    "axis": {"title": words.axis, "tickCount": 5} | PERCENT,
                },
                "y": {
                    "field": "label",
                    "type": "nominal",
                    "sort": order,
                    "axis": {"title": None, "ticks": False},
                },
            },
        },
        *target_line("x", NOMINAL, words.target),
    ]
    return picture(values, layers, width=WIDTH, height=ROW_HEIGHT * max(len(order), 1))

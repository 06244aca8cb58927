"""Draw the plots of a block from its frame: a piece of ground, a list of holdings, or a row of spots.

A frame and a plan are all a draw needs, so a stored pair draws the same plots again.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any

from monitoring.calc.plot_drawing import DRAWING_VERSION, draw_points
from monitoring.calc.row_segments import Segment, segments_of
from monitoring.estimators.list_draw import ListDraw, draw_from_list

HOLDINGS, ROW = "holdings", "row"  # the kinds of frame that are not GeoJSON
EQUAL, BY_TREES = "equal", "by_trees"  # chances of the holdings of a list
Frame = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Plan:
    """How plots are to be drawn.

    Attributes
    ----------
    method : "random", "systematic", "balanced" on ground; "list" on holdings and rows.
    n_plots, n_spares : plots, and spares kept for those that cannot be reached.
    seed : int, not negative.
    radius_m : horizontal radius of a circle. [m]
    border_rule : "clip" or "buffer".
    buffer_m : width along the border in which no centre may lie. [m]
    """

    method: str
    n_plots: int
    n_spares: int
    seed: int
    radius_m: float = 0.0
    border_rule: str = "clip"
    buffer_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Drawn:
    """What was drawn.

    Attributes
    ----------
    points : in order, spares last. On ground `{order, latitude, longitude, share_inside, spare}`; of a list
        `{order, uid, label, weight, spare}`; of a row `{order, first, last, spare}`.
    share_not_covered : part of the net area that a buffer leaves out, 0..1.
    frame_sha256 : of the frame.
    code_version : of the drawing.
    """

    points: tuple[dict[str, Any], ...]
    share_not_covered: float
    frame_sha256: str
    code_version: str


def draw(frame: Frame, plan: Plan) -> Drawn:
    """Draw the plots of a frame.

    Parameters
    ----------
    frame : GeoJSON Polygon or MultiPolygon; or `{type: "holdings", chance, units: [{uid, label, trees, latitude,
        longitude}]}`; or `{type: "row", spots, spots_per_plot, without}`.
    plan : how.

    Raises
    ------
    ValueError
        If the frame cannot give so many plots.

    Examples
    --------
    >>> row = {"type": "row", "spots": 60, "spots_per_plot": 20}
    >>> [(point["first"], point["last"]) for point in draw(row, Plan("list", 3, 0, 7)).points]
    [(1, 20), (21, 40), (41, 60)]
    """
    if frame["type"] == HOLDINGS:
        return Drawn(_holdings(frame, plan), 0.0, digest(frame), DRAWING_VERSION)
    if frame["type"] == ROW:
        return Drawn(_segments(frame, plan), 0.0, digest(frame), DRAWING_VERSION)
    return _ground(frame, plan)


def units_in(frame: Frame) -> int | None:
    """Return how many plots a list or row holds in all; None on ground."""
    if frame["type"] == HOLDINGS:
        return len(frame["units"])
    if frame["type"] == ROW:
        return len(segments(frame))
    return None


def digest(frame: Frame) -> str:
    """Return the SHA-256 of a frame's canonical JSON."""
    text = json.dumps(frame, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _ground(frame: Frame, plan: Plan) -> Drawn:
    found = draw_points(
        frame, method=plan.method, n=plan.n_plots, n_spares=plan.n_spares, seed=plan.seed,
        plot_radius_m=plan.radius_m or None, border_rule=plan.border_rule, buffer_m=plan.buffer_m,
    )  # fmt: skip
    points = tuple(
        {
            "order": point.order,
            "latitude": point.latitude,
            "longitude": point.longitude,
            "share_inside": point.share_inside,
            "spare": point.spare,
        }
        for point in found.points
    )
    return Drawn(points, found.share_not_covered, found.frame_sha256, found.code_version)


def _holdings(frame: Frame, plan: Plan) -> tuple[dict[str, Any], ...]:
    """Draw holdings; where large ones are likelier, each carries what a tree of it weighs."""
    units = frame["units"]
    sizes = None if frame["chance"] == EQUAL else [unit["trees"] for unit in units]
    found = draw_from_list(len(units), plan.n_plots, plan.seed, sizes=sizes, n_spares=plan.n_spares)
    least = min(1 / found.chances[unit] for unit in found.units)
    return tuple(
        {
            "order": order,
            "uid": units[unit]["uid"],
            "label": units[unit]["label"],
            "latitude": units[unit]["latitude"],
            "longitude": units[unit]["longitude"],
            "weight": 1.0 if sizes is None else round(1 / found.chances[unit] / least, 9),
            "spare": order > plan.n_plots,
        }
        for order, unit in enumerate(in_order(found), 1)
    )


def _segments(frame: Frame, plan: Plan) -> tuple[dict[str, Any], ...]:
    """Draw runs of spots with equal chance."""
    held = segments(frame)
    found = draw_from_list(len(held), plan.n_plots, plan.seed, n_spares=plan.n_spares)
    return tuple(
        {
            "order": order,
            "first": held[unit].first,
            "last": held[unit].last,
            "spare": order > plan.n_plots,
        }
        for order, unit in enumerate(in_order(found), 1)
    )


def in_order(found: ListDraw) -> tuple[int, ...]:
    return (*found.units, *found.spares)


def segments(frame: Frame) -> list[Segment]:
    """The runs of a row that may be drawn: all of them, less those that begin at a spot of `without`."""
    without = set(frame.get("without", []))
    return [run for run in segments_of(frame["spots"], frame["spots_per_plot"]) if run.first not in without]

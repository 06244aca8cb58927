"""Hold the points of a stored draw against the same draw made again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from projects.calc.geometry import distance_m

SAME_WITHIN_M = 0.01
PLACE = ("latitude", "longitude")


@dataclass(frozen=True, slots=True)
class Difference:
    """One place in the order of a draw where the two do not agree.

    Attributes
    ----------
    order : its place.
    apart_m : how far the two points lie apart, where both are points. [m]
    stored, again : what each draw has there; None where it has nothing.
    """

    order: int
    apart_m: float | None
    stored: dict[str, Any] | None
    again: dict[str, Any] | None


def differences(stored: Sequence[dict[str, Any]], again: Sequence[dict[str, Any]]) -> list[Difference]:
    """Return every place where two draws differ; empty when they are the same.

    Points closer than one centimetre are the same; whatever else a point carries must be equal.

    Examples
    --------
    >>> here = [{"order": 1, "latitude": 40.0, "longitude": -7.0, "spare": False}]
    >>> differences(here, here)
    []
    >>> moved = [{"order": 1, "latitude": 40.001, "longitude": -7.0, "spare": False}]
    >>> [round(found.apart_m) for found in differences(here, moved)]
    [111]
    """
    old, new = ({point["order"]: point for point in points} for points in (stored, again))
    found = []
    for order in sorted(set(old) | set(new)):
        one, other = old.get(order), new.get(order)
        if not same(one, other):
            found.append(Difference(order, apart_m(one, other), one, other))
    return found


def same(one: dict[str, Any] | None, other: dict[str, Any] | None) -> bool:
    """Whether two points of a draw are one and the same."""
    if one is None or other is None:
        return False
    apart = apart_m(one, other)
    if apart is not None and apart > SAME_WITHIN_M:
        return False
    return rest_of(one) == rest_of(other)


def rest_of(point: dict[str, Any]) -> dict[str, Any]:
    """What a point carries beside its place, shares to nine digits."""
    return {
        name: round(value, 9) if isinstance(value, float) else value
        for name, value in point.items()
        if name not in PLACE
    }


def apart_m(one: dict[str, Any] | None, other: dict[str, Any] | None) -> float | None:
    """Return the distance between two points, None where one of them has no place. [m]"""
    if (
        one is None
        or other is None
        or any(point.get(name) is None for point in (one, other) for name in PLACE)
    ):
        return None
    start, end = ((point["longitude"], point["latitude"]) for point in (one, other))
    return distance_m(start, end)

"""Outlines in metres turned into GeoJSON, and plot centres drawn inside them."""

import math
from collections.abc import Sequence

import numpy as np

METRES_A_DEGREE = 111_320.0  # of latitude; near enough for invented land

Points = tuple[tuple[float, float], ...]


def patch(east_m: float, north_m: float, width_m: float, height_m: float, bend_m: float = 8.0) -> Points:
    """Return an outline that is nearly a rectangle, bent as real field edges are, anticlockwise. [m]"""
    e, n, w, h, b = east_m, north_m, width_m, height_m, bend_m
    return (
        (e, n), (e + w * 0.5, n - b), (e + w, n + b * 0.5),
        (e + w - b * 0.5, n + h), (e + w * 0.45, n + h + b * 0.5), (e + b * 0.5, n + h - b * 0.5),
    )  # fmt: skip


def place(latitude: float, longitude: float, east_m: float, north_m: float) -> tuple[float, float]:
    """Return (latitude, longitude) of a point so many metres east and north of a corner, to seven decimals.

    >>> place(40.0, -7.0, 0.0, 111.32)
    (40.001, -7.0)
    """
    east = east_m / (METRES_A_DEGREE * math.cos(math.radians(latitude)))
    return round(latitude + north_m / METRES_A_DEGREE, 7), round(longitude + east, 7)


def metres(latitude: float, longitude: float, at_latitude: float, at_longitude: float) -> tuple[float, float]:
    """Return how many metres east and north of a corner a point lies: the way back from `place`.

    >>> metres(40.0, -7.0, *place(40.0, -7.0, 120.0, 45.0))
    (120.0, 45.0)
    """
    east = (at_longitude - longitude) * METRES_A_DEGREE * math.cos(math.radians(latitude))
    return round(east, 1), round((at_latitude - latitude) * METRES_A_DEGREE, 1)


def polygon(latitude: float, longitude: float, outline_m: Sequence[tuple[float, float]]) -> dict:
    """Return a closed GeoJSON Polygon (RFC 7946) of an outline in metres."""
    ring = [list(reversed(place(latitude, longitude, east, north))) for east, north in outline_m]
    return {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}


def inside(outline_m: Sequence[tuple[float, float]], east_m: float, north_m: float) -> bool:
    """Say whether a point lies inside an outline (even-odd rule).

    >>> inside(((0, 0), (4, 0), (4, 4), (0, 4)), 1, 1), inside(((0, 0), (4, 0), (4, 4), (0, 4)), 5, 1)
    (True, False)
    """
    found = False
    for (e1, n1), (e2, n2) in zip(outline_m, (*outline_m[1:], outline_m[0]), strict=True):
        crosses = (n1 > north_m) != (n2 > north_m)
        if crosses and east_m < (e2 - e1) * (north_m - n1) / (n2 - n1) + e1:
            found = not found
    return found


def point_inside(rng: np.random.Generator, outline_m: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Draw one point uniformly inside an outline: tried in its bounding box until it falls inside. [m]"""
    easts, norths = zip(*outline_m, strict=True)
    while True:
        east = float(rng.uniform(min(easts), max(easts)))
        north = float(rng.uniform(min(norths), max(norths)))
        if inside(outline_m, east, north):
            return round(east, 1), round(north, 1)

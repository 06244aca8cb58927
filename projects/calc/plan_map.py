"""A small map of a site as SVG: its boundary, its blocks by number, north, a scale bar and coordinates.

Nothing that a person typed enters the picture: blocks are told by their numbers, names stand beside it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

WIDTH, MARGIN, LEAST_HEIGHT, MOST_HEIGHT = 640.0, 34.0, 220.0, 560.0
SEMI_MAJOR_M, FLATTENING = 6_378_137.0, 1 / 298.257223563  # WGS 84
FEET_PER_METRE = 1 / 0.3048
INK, PAPER, SHADE, BAND = "#1d2b4a", "#ffffff", "#f3ecdb", "#7c8fb8"

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class PlanMap:
    """A drawn map.

    Attributes
    ----------
    svg : the picture.
    scale_m : length of its scale bar. [m]
    south, north, west, east : its extent, boundary and blocks. [degrees]
    """

    svg: str
    scale_m: float
    south: float
    north: float
    west: float
    east: float


def metres_per_degree(latitude_deg: float) -> tuple[float, float]:
    """Return the length of a degree of longitude and of latitude on the WGS 84 ellipsoid. [m]

    Examples
    --------
    >>> [round(length) for length in metres_per_degree(0)]
    [111319, 110574]
    >>> [round(length) for length in metres_per_degree(45)]
    [78847, 111132]
    """
    squared = FLATTENING * (2 - FLATTENING)
    phi = math.radians(latitude_deg)
    w = math.sqrt(1 - squared * math.sin(phi) ** 2)
    east = math.pi / 180 * SEMI_MAJOR_M / w * math.cos(phi)
    north = math.pi / 180 * SEMI_MAJOR_M * (1 - squared) / w**3
    return east, north


def round_length(longest: float) -> float:
    """Return the greatest of 1, 2, 5, 10, 20 … that is not above `longest`.

    >>> round_length(730), round_length(0.4), round_length(20)
    (500.0, 0.2, 20.0)
    """
    if longest <= 0:
        raise ValueError("a length is above 0.")
    power = 10.0 ** math.floor(math.log10(longest))
    return max(step * power for step in (0.1, 1.0, 2.0, 5.0, 10.0) if step * power <= longest * (1 + 1e-12))


def draw_map(
    boundary: dict[str, Any] | None,
    blocks: Sequence[tuple[int, dict[str, Any], Point]],
    *,
    units: str = "metric",
) -> PlanMap | None:
    """Draw a site.

    Parameters
    ----------
    boundary : GeoJSON Polygon or MultiPolygon of the site, longitude and latitude, or None. [degrees]
    blocks : number, geometry and a place inside it for the number, of each block.
    units : "us" writes the scale bar in feet.

    Returns
    -------
    PlanMap or None
        None where there is nothing to draw. About the middle of a site of 20 km lengths are true to 1 %.
    """
    shapes = [*([boundary] if boundary else []), *(geometry for _number, geometry, _at in blocks)]
    points = [point for shape in shapes for ring in rings(shape) for point in ring]
    if not points:
        return None
    plane = _Plane.about(points)
    body = [_path(boundary, plane, SHADE, 2.0)] if boundary else []
    body += [_path(geometry, plane, BAND, 1.2) for _number, geometry, _at in blocks]
    body += [_number(number, plane.at(*place)) for number, _geometry, place in blocks]
    bar_m, bar = _scale_bar(plane, units)
    body += [bar, _north(plane), _corners(plane)]
    size = f'width="{WIDTH:g}" height="{plane.height:.1f}" viewBox="0 0 {WIDTH:g} {plane.height:.1f}"'
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family="Source Sans 3">{"".join(body)}</svg>'
    return PlanMap(svg, bar_m, plane.south, plane.north, plane.west, plane.east)


def rings(geometry: dict[str, Any]) -> Iterator[list[Point]]:
    """Every ring of a Polygon or MultiPolygon."""
    kind, coordinates = geometry["type"], geometry["coordinates"]
    for polygon in [coordinates] if kind == "Polygon" else coordinates:
        for ring in polygon:
            yield [(float(point[0]), float(point[1])) for point in ring]


@dataclass(frozen=True, slots=True)
class _Plane:
    """Degrees to units of the picture, the same scale both ways."""

    west: float
    east: float
    south: float
    north: float
    per_m: float
    height: float

    @classmethod
    def about(cls, points: list[Point]) -> _Plane:
        first = points[0][0]
        longitudes = [first + (x - first + 180) % 360 - 180 for x, _y in points]  # across the date line too
        west, east = min(longitudes), max(longitudes)
        south, north = min(y for _x, y in points), max(y for _x, y in points)
        per_x, per_y = metres_per_degree((south + north) / 2)
        wide, tall = max((east - west) * per_x, 1.0), max((north - south) * per_y, 1.0)
        room = WIDTH - 2 * MARGIN
        per_m = min(room / wide, (MOST_HEIGHT - 2 * MARGIN - 40) / tall)
        height = max(tall * per_m + 2 * MARGIN + 40, LEAST_HEIGHT)
        return cls(west, east, south, north, per_m, round(height, 1))

    def at(self, longitude: float, latitude: float) -> Point:
        per_x, per_y = metres_per_degree((self.south + self.north) / 2)
        east = self.west + (longitude - self.west + 180) % 360 - 180
        return (
            round(MARGIN + (east - self.west) * per_x * self.per_m, 1),
            round(MARGIN + (self.north - latitude) * per_y * self.per_m, 1),
        )


def _path(geometry: dict[str, Any], plane: _Plane, fill: str, width: float) -> str:
    parts = []
    for ring in rings(geometry):
        pairs = [plane.at(*point) for point in ring]
        parts.append("M" + " L".join(f"{x:g},{y:g}" for x, y in pairs) + " Z")
    return (
        f'<path d="{" ".join(parts)}" fill="{fill}" fill-opacity="0.55" fill-rule="evenodd" stroke="{INK}" '
        f'stroke-width="{width:g}"/>'
    )


def _number(number: int, at: Point) -> str:
    x, y = at
    return (
        f'<circle cx="{x:g}" cy="{y:g}" r="11" fill="{PAPER}" stroke="{INK}"/>'
        f'<text x="{x:g}" y="{y + 5:g}" font-size="14" font-weight="600" text-anchor="middle" fill="{INK}">'
        f"{number:d}</text>"
    )


def _scale_bar(plane: _Plane, units: str) -> tuple[float, str]:
    per_unit = 1 / FEET_PER_METRE if units == "us" else 1.0
    length = round_length((WIDTH / 3) / plane.per_m / per_unit)
    long_m = length * per_unit
    word = (
        f"{length:g} ft" if units == "us" else f"{length / 1000:g} km" if length >= 1000 else f"{length:g} m"
    )
    across, y = long_m * plane.per_m, plane.height - 16
    return long_m, (
        f'<path d="M{MARGIN:g},{y - 6:g} V{y:g} H{MARGIN + across:.1f} V{y - 6:g}" fill="none" stroke="{INK}" '
        f'stroke-width="2"/><text x="{MARGIN + across + 8:.1f}" y="{y:g}" font-size="14" fill="{INK}">{word}</text>'
    )


def _north(plane: _Plane) -> str:
    x, y = WIDTH - MARGIN, plane.height - 46
    return (
        f'<path d="M{x:g},{y:g} l-8,26 l8,-7 l8,7 Z" fill="{INK}"/>'
        f'<text x="{x:g}" y="{y + 40:g}" font-size="14" font-weight="600" text-anchor="middle" fill="{INK}">N</text>'
    )


def _corners(plane: _Plane) -> str:
    """Coordinates of the north-west and south-east corners of what is drawn."""
    first, last = _degrees(plane.north, plane.west), _degrees(plane.south, plane.east)
    y = plane.height - 16
    return (
        f'<text x="{MARGIN:g}" y="20" font-size="13" fill="{INK}">{first}</text>'
        f'<text x="{WIDTH - MARGIN - 24:g}" y="{y:g}" font-size="13" text-anchor="end" fill="{INK}">{last}</text>'
    )


def _degrees(latitude: float, longitude: float) -> str:
    longitude = (longitude + 180) % 360 - 180
    north, east = "N" if latitude >= 0 else "S", "E" if longitude >= 0 else "W"
    return f"{abs(latitude):.5f}° {north}, {abs(longitude):.5f}° {east}"

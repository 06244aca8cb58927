"""GeoJSON taken apart: one polygon's rings as numbers, or exactly what is wrong with the text."""

from __future__ import annotations

import json
from typing import Any

DECIMALS = 7  # about a centimetre: finer than any boundary is known
MOST_POSITIONS = 20_000
# Names of the one reference system RFC 7946 allows, as older files write it.
SAME_REFERENCE = ("CRS84", "EPSG::4326", "EPSG:4326")

Ring = list[tuple[float, float]]


class BoundaryProblem(ValueError):
    """A boundary that cannot be used: a stable code and the facts a message needs.

    Attributes
    ----------
    code : str
        What is wrong, for example ``"crosses_itself"``.
    facts : dict
        Numbers and words for the message.
    """

    def __init__(self, code: str, **facts: Any) -> None:
        super().__init__(f"{code} {facts}" if facts else code)
        self.code, self.facts = code, facts


def rings_of(source: str | dict[str, Any]) -> tuple[str, list[list[Ring]]]:
    """Return the type and the rings of the one polygon in a GeoJSON text or object.

    Parameters
    ----------
    source : str or dict
        GeoJSON (RFC 7946): a Polygon, a MultiPolygon, a Feature or a collection with one of them.

    Returns
    -------
    str
        "Polygon" or "MultiPolygon".
    list of list of list of (longitude, latitude)
        Polygons of closed rings, rounded to 7 decimals; heights are left out. [degrees]

    Raises
    ------
    BoundaryProblem
        With the code of the first thing found wrong.

    Examples
    --------
    >>> rings_of('{"type": "Polygon", "coordinates": [[[1, 2, 300], [1.1, 2], [1.1, 2.1], [1, 2, 300]]]}')
    ('Polygon', [[[(1.0, 2.0), (1.1, 2.0), (1.1, 2.1), (1.0, 2.0)]]])
    """
    geometry = _one_geometry(_parsed(source))
    polygons = _polygons(geometry)
    _check_size(polygons)
    return geometry["type"], [[_ring(ring) for ring in polygon] for polygon in polygons]


def _parsed(source: str | dict[str, Any]) -> dict[str, Any]:
    if isinstance(source, str):
        source = _loaded(source)
    if not isinstance(source, dict) or not isinstance(source.get("type"), str):
        raise BoundaryProblem("not_geojson")
    return source


def _loaded(text: str) -> Any:
    try:
        return json.loads(text, parse_constant=_no_constant)
    except json.JSONDecodeError as broken:
        raise BoundaryProblem("not_json", line=broken.lineno, column=broken.colno) from broken
    except BoundaryProblem:
        raise
    except (RecursionError, ValueError) as beyond:  # nested without end, or a number of thousands of digits
        raise BoundaryProblem("not_json", line=1, column=1) from beyond


def _no_constant(word: str) -> float:
    raise BoundaryProblem("not_a_number", value=word)


def _one_geometry(found: dict[str, Any]) -> dict[str, Any]:
    """Unwrap a collection and a feature down to their one geometry."""
    _check_reference(found)
    if found["type"] == "FeatureCollection":
        features = found.get("features")
        if not isinstance(features, list) or len(features) != 1:
            raise BoundaryProblem("not_one_shape", count=len(features) if isinstance(features, list) else 0)
        found = features[0]
    if isinstance(found, dict) and found.get("type") == "Feature":
        found = found.get("geometry") or {}
    kind = found.get("type") if isinstance(found, dict) else None
    if kind not in ("Polygon", "MultiPolygon"):
        raise BoundaryProblem("wrong_type", type=str(kind or "?")[:40])
    return found


def _check_reference(found: dict[str, Any]) -> None:
    reference = found.get("crs")
    if reference is None:
        return
    properties = reference.get("properties") if isinstance(reference, dict) else None
    name = str(properties.get("name") if isinstance(properties, dict) else reference)
    if not name.endswith(SAME_REFERENCE):
        raise BoundaryProblem("other_reference", name=name[:60])


def _polygons(geometry: dict[str, Any]) -> list[list[list[Any]]]:
    """Return the coordinates as polygons of rings of positions, whatever the type."""
    coordinates = geometry.get("coordinates")
    polygons: Any = [coordinates] if geometry["type"] == "Polygon" else coordinates
    if not _filled_list(polygons) or not all(_filled_list(polygon) for polygon in polygons):
        raise BoundaryProblem("no_coordinates")
    if not all(isinstance(ring, list) for polygon in polygons for ring in polygon):
        raise BoundaryProblem("no_coordinates")
    return polygons


def _filled_list(value: Any) -> bool:
    return isinstance(value, list) and bool(value)


def _check_size(polygons: list[list[list[Any]]]) -> None:
    count = sum(len(ring) for polygon in polygons for ring in polygon)
    if count > MOST_POSITIONS:
        raise BoundaryProblem("too_many_corners", count=count, most=MOST_POSITIONS)


def _ring(positions: list[Any]) -> list[tuple[float, float]]:
    ring = [_position(position) for position in positions]
    if len(ring) < 4:
        raise BoundaryProblem("too_few_corners", count=len(ring))
    if ring[0] != ring[-1]:
        raise BoundaryProblem("not_closed", longitude=ring[0][0], latitude=ring[0][1])
    return ring


def _finite(number: Any) -> float:
    """Return a coordinate as a float; true, "12", NaN and 1e999 are not numbers of a place."""
    plain = isinstance(number, int | float) and not isinstance(number, bool)
    if not plain or not abs(number) < 1e9:
        raise BoundaryProblem("not_a_number", value=str(number)[:40])
    return float(number)


def _position(position: Any) -> tuple[float, float]:
    if not isinstance(position, list) or len(position) < 2:
        raise BoundaryProblem("not_a_number", value=str(position)[:40])
    longitude, latitude = (round(_finite(number), DECIMALS) for number in position[:2])
    if abs(latitude) > 90 and abs(latitude) <= 180 and abs(longitude) <= 90:
        raise BoundaryProblem("swapped", longitude=longitude, latitude=latitude)
    if abs(latitude) > 90 or abs(longitude) > 180:
        raise BoundaryProblem("out_of_range", longitude=longitude, latitude=latitude)
    return longitude, latitude

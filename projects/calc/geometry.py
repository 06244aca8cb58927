"""Boundaries: read GeoJSON strictly, measure it on the WGS 84 ellipsoid, and say exactly what is wrong.

With `local_plane`, the only module of the calculations that imports shapely and pyproj.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from pyproj import CRS, Geod, Transformer
from shapely import make_valid, transform
from shapely.geometry import MultiPolygon, Point, Polygon, mapping, shape
from shapely.geometry.polygon import orient
from shapely.validation import explain_validity

from projects.calc.boundary_text import BoundaryProblem, rings_of

GEOD = Geod(ellps="WGS84")
SQUARE_METRES_PER_HECTARE = 10_000
LEAST_AREA_M2 = 1.0


@dataclass(frozen=True, slots=True)
class Boundary:
    """A boundary that may be stored.

    Attributes
    ----------
    geometry : dict
        GeoJSON Polygon or MultiPolygon; outer rings anticlockwise; at most 7 decimals.
    area_ha : float
        Geodesic area on WGS 84, holes taken out. [ha]
    """

    geometry: dict[str, Any]
    area_ha: float


def read_boundary(source: str | dict[str, Any], *, most_ha: float) -> Boundary:
    """Return the one polygon of a GeoJSON text or object, checked and measured.

    Parameters
    ----------
    source : str or dict
        GeoJSON (RFC 7946): a Polygon, a MultiPolygon, a Feature or a collection with one of them.
    most_ha : float
        The largest area that is believed. [ha]

    Returns
    -------
    Boundary

    Raises
    ------
    BoundaryProblem
        With the code of the first thing found wrong.

    Notes
    -----
    Crossing is tested in the plane of longitude and latitude, as RFC 7946 defines an edge. Swapped
    coordinates are certain only where the second number passes 90; `looks_swapped` helps with the rest.

    Examples
    --------
    >>> square = '{"type": "Polygon", "coordinates": [[[10,50],[10.01,50],[10.01,50.01],[10,50.01],[10,50]]]}'
    >>> round(read_boundary(square, most_ha=1000).area_ha, 1)
    79.7
    """
    kind, rings = rings_of(source)
    _check_span(rings)
    built = _built(rings, kind)
    area_m2 = geodesic_area_m2(built)
    if area_m2 < LEAST_AREA_M2:
        raise BoundaryProblem("no_area")
    area_ha = area_m2 / SQUARE_METRES_PER_HECTARE
    if area_ha > most_ha:
        raise BoundaryProblem("too_large", area_ha=area_ha, most_ha=most_ha)
    return Boundary(geometry=_plain(built), area_ha=area_ha)


def geodesic_area_m2(geometry: dict[str, Any] | Polygon | MultiPolygon) -> float:
    """Return the area of a polygon on the WGS 84 ellipsoid, whichever way its rings run.

    Parameters
    ----------
    geometry : dict or shapely geometry
        Polygon or MultiPolygon in longitude and latitude. [degrees]

    Returns
    -------
    float
        Area, holes taken out. [m2]

    References
    ----------
    .. [1] C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87 (2013) 43-55 (through pyproj's Geod).

    Examples
    --------
    >>> ring = [[179.995, -17], [180.005, -17], [180.005, -16.995], [179.995, -16.995], [179.995, -17]]
    >>> round(geodesic_area_m2({"type": "Polygon", "coordinates": [ring]}), 1)
    589243.1
    """
    found = shape(geometry) if isinstance(geometry, dict) else geometry
    parts = found.geoms if isinstance(found, MultiPolygon) else [found]
    return float(sum(abs(GEOD.geometry_area_perimeter(orient(part))[0]) for part in parts))


def distance_m(start: tuple[float, float], end: tuple[float, float]) -> float:
    """Return the geodesic distance between two (longitude, latitude) points on WGS 84. [m]

    Examples
    --------
    >>> round(distance_m((-3.51, 54.6), (-3.5, 54.61)), 3)
    1287.137
    """
    _azimuth, _back, distance = GEOD.inv(*start, *end)
    return float(distance)


def centre(geometry: dict[str, Any]) -> tuple[float, float]:
    """Return a (longitude, latitude) that lies inside the boundary. [degrees]"""
    point = shape(geometry).representative_point()
    return float(point.x), float(point.y)


def utm_epsg(longitude: float, latitude: float) -> int:
    """Return the EPSG code of the UTM zone of a point, with the exceptions of Norway and Svalbard.

    Examples
    --------
    >>> utm_epsg(5.0, 60.0), utm_epsg(36.8, -1.2)
    (32632, 32737)
    """
    zone = int((longitude + 180) // 6) % 60 + 1
    if 56 <= latitude < 64 and 3 <= longitude < 12:
        zone = 32
    if latitude >= 72 and 0 <= longitude < 42:
        zone = 31 + 2 * int((longitude + 3) // 12)
    return (32600 if latitude >= 0 else 32700) + zone


def to_utm(longitude: float, latitude: float) -> tuple[float, float, int]:
    """Return (easting, northing, EPSG code) of a point in its UTM zone. [m]"""
    epsg = utm_epsg(longitude, latitude)
    easting, northing = _transformer(epsg).transform(longitude, latitude)
    return float(easting), float(northing), epsg


def holds_point(geometry: dict[str, Any], longitude: float, latitude: float) -> bool:
    """Say whether a point lies inside a boundary, its edge counted as outside."""
    return bool(shape(geometry).contains(Point(longitude, latitude)))


def share_outside(inner: dict[str, Any], outer: dict[str, Any]) -> float:
    """Return the share of `inner`'s area that lies outside `outer`, between 0 and 1.

    Areas are compared in the UTM plane of `inner`, where the scale cancels out of the share.
    """
    project = _transformer(utm_epsg(*centre(inner))).transform
    inside, around = (
        make_valid(transform(shape(each), project, interleaved=False)) for each in (inner, outer)
    )
    return float(min(1.0, max(0.0, inside.difference(around).area / inside.area)))


def looks_swapped(geometry: dict[str, Any], near: list[tuple[float, float]]) -> bool:
    """Say whether a boundary lies far from the places given, and near them with its axes exchanged.

    Parameters
    ----------
    geometry : dict
        The boundary as given.
    near : list of (longitude, latitude)
        Known places it should be about, such as the cities of its country. [degrees]
    """
    longitude, latitude = centre(geometry)
    if not near or abs(longitude) > 90:
        return False
    as_given = min(distance_m((longitude, latitude), place) for place in near)
    exchanged = min(distance_m((latitude, longitude), place) for place in near)
    return as_given > 1_500_000 and exchanged < as_given / 2


def _transformer(epsg: int) -> Transformer:
    return Transformer.from_crs(CRS.from_epsg(4326), CRS.from_epsg(epsg), always_xy=True)


def _check_span(polygons: list[list[list[tuple[float, float]]]]) -> None:
    for rings in polygons:
        longitudes = [longitude for ring in rings for longitude, _latitude in ring]
        if max(longitudes) - min(longitudes) > 180:
            raise BoundaryProblem("crosses_date_line")


def _built(polygons: list[list[list[tuple[float, float]]]], kind: str) -> Polygon | MultiPolygon:
    parts = [Polygon(rings[0], rings[1:]) for rings in polygons]
    found = parts[0] if kind == "Polygon" else MultiPolygon(parts)
    if not found.is_valid:
        raise _invalid(explain_validity(found))
    turned = [orient(part) for part in parts]
    return turned[0] if kind == "Polygon" else MultiPolygon(turned)


def _invalid(explanation: str) -> BoundaryProblem:
    """Turn shapely's words, such as "Self-intersection[10.005 50.005]", into a problem with its place."""
    words, _bracket, place = explanation.partition("[")
    numbers = place.rstrip("]").split()
    facts = {}
    if len(numbers) == 2:
        facts = {"longitude": round(float(numbers[0]), 6), "latitude": round(float(numbers[1]), 6)}
    if words.startswith("Hole lies outside"):
        return BoundaryProblem("hole_outside", **facts)
    if "intersection" in words.lower():
        return BoundaryProblem("crosses_itself", **facts)
    if words.startswith("Too few points"):
        return BoundaryProblem("no_area")
    return BoundaryProblem("crosses_itself", **facts)


def _plain(found: Polygon | MultiPolygon) -> dict[str, Any]:
    """Return GeoJSON with lists for tuples, as it comes back from the database."""
    return json.loads(json.dumps(mapping(found)))

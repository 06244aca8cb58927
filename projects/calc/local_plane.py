"""A plane of true area about a piece of ground, in metres, and back to longitude and latitude."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pyproj import Proj
from shapely import Polygon, union_all

from projects.calc.boundary_text import DECIMALS, Ring, rings_of

Floats = NDArray[np.float64]
BUFFER_SEGMENTS = 64  # straight pieces of a quarter circle where a buffer goes round a corner


@dataclass(frozen=True, slots=True)
class PlaneGround:
    """Ground in its own plane, Lambert's azimuthal equal-area one about the middle of its extent.

    Attributes
    ----------
    longitude, latitude : where the plane touches WGS 84. [degrees]
    polygons : rings of (n, 2) eastings and northings; first the outer one, then its holes. [m]
    sha256 : of the coordinates in degrees, by which the ground is known again.
    """

    longitude: float
    latitude: float
    polygons: tuple[tuple[Floats, ...], ...]
    sha256: str

    def to_map(self, points: Floats) -> Floats:
        """Longitude (−180 to 180) and latitude of points of the plane, rounded to 7 decimals, (n, 2)."""
        longitude, latitude = _plane(self.latitude)(points[:, 0], points[:, 1], inverse=True)
        longitude = (np.asarray(longitude) + self.longitude + 180) % 360 - 180
        return np.round(np.stack([longitude, np.asarray(latitude)], axis=1), DECIMALS)

    def share_near_border(self, buffer_m: float) -> float:
        """Share of the area nearer to the border than a buffer, corners rounded."""
        whole = union_all([Polygon(rings[0], rings[1:]) for rings in self.polygons])
        left = whole.buffer(-buffer_m, quad_segs=BUFFER_SEGMENTS)
        return float(1 - left.area / whole.area)


def plane_ground(frame: dict[str, Any]) -> PlaneGround:
    """Lay a GeoJSON polygon or multipolygon out in a plane.

    Parameters
    ----------
    frame : dict
        Polygon or MultiPolygon in longitude and latitude; pieces on both sides of the 180th meridian are put beside
        each other. [degrees]

    Raises
    ------
    BoundaryProblem
        If it is not one polygon of closed rings.
    ValueError
        If its pieces overlap or cross themselves.

    Examples
    --------
    >>> ring = [[179.995, -17], [-179.995, -17], [-179.995, -16.995], [179.995, -16.995], [179.995, -17]]
    >>> ground = plane_ground({"type": "Polygon", "coordinates": [ring]})
    >>> round(ground.longitude, 3), round(float(abs(ground.polygons[0][0][:, 0]).max()))
    (180.0, 532)
    """
    _kind, polygons = rings_of(frame)
    sha256 = hashlib.sha256(json.dumps(polygons, separators=(",", ":")).encode()).hexdigest()
    first = polygons[0][0][0][0]
    beside = [[_beside(ring, first) for ring in rings] for rings in polygons]
    corners = np.concatenate([ring for rings in beside for ring in rings])
    longitude, latitude = (corners.min(axis=0) + corners.max(axis=0)) / 2
    plane = _plane(latitude)
    flat = tuple(tuple(_flat(ring, longitude, plane) for ring in rings) for rings in beside)
    _check_apart([Polygon(rings[0], rings[1:]) for rings in flat])
    return PlaneGround(float(longitude), float(latitude), flat, sha256)


def _check_apart(pieces: list[Polygon]) -> None:
    """Pieces may share a side, as those cut at the 180th meridian do, but no ground."""
    sound = all(piece.is_valid for piece in pieces)
    if not sound or union_all(pieces).area < sum(piece.area for piece in pieces) * (1 - 1e-9):
        raise ValueError("the pieces of the ground overlap or cross themselves.")


def _beside(ring: Ring, longitude: float) -> Floats:
    """The ring with every longitude within half a turn of the one given."""
    corners = np.asarray(ring, float)
    corners[:, 0] = longitude + (corners[:, 0] - longitude + 180) % 360 - 180
    return np.round(corners, DECIMALS)


def _plane(latitude: float) -> Proj:
    """From degrees east of the middle, and latitude, to metres; turning about the axis changes no shape."""
    return Proj(proj="laea", lat_0=float(latitude), lon_0=0, ellps="WGS84")


def _flat(ring: Floats, longitude: float, plane: Proj) -> Floats:
    return np.stack(plane(ring[:, 0] - longitude, ring[:, 1]), axis=1)

"""Geometry against PROJ and GeographicLib (pyproj 3.7, recomputed to the digits shown), and shapely's containment."""

import pytest

from projects.calc import geometry

SOURCE = "pyproj 3.7.2 (PROJ, Geod on WGS 84)"
L_SHAPE = [[0.0, 0.0], [4.0, 0.0], [4.0, 1.0], [1.0, 1.0], [1.0, 3.0], [0.0, 3.0], [0.0, 0.0]]


def test_area_of_two_pieces_one_across_the_antimeridian_agrees_with_geod():
    """Case 11-area-multi-antimeridian; source: pyproj Geod, the second part recomputed at -179.995."""
    pieces = [
        [[[10, 50], [10.01, 50], [10.01, 50.01], [10, 50.01], [10, 50]]],
        [[[179.995, -17], [180.005, -17], [180.005, -16.995], [179.995, -16.995], [179.995, -17]]],
    ]
    area = geometry.geodesic_area_m2({"type": "MultiPolygon", "coordinates": pieces})
    assert area == pytest.approx(1386626.19197, abs=0.001)


@pytest.mark.parametrize(
    ("longitude", "latitude", "epsg", "easting", "northing"),
    [
        (36.8, -1.2, 32737, 255187.895597, 9867265.28256),
        (146.5, -42.2, 32755, 458721.055932, 5327896.62854),
        (10.75, 59.91, 32632, 597868.381063, 6642681.51016),
        (5.0, 60.0, 32632, 276979.926401, 6658157.20241),  # the exception of south-west Norway
        (-122.4, 45.5, 32610, 546876.066714, 5038671.5696),
    ],
)
def test_utm_coordinates_agree_with_proj(longitude, latitude, epsg, easting, northing):
    """Cases 11-utm-*; source: pyproj 3.7 (PROJ), round trip 1e-9 degrees."""
    found = geometry.to_utm(longitude, latitude)
    assert found[2] == epsg
    assert found[:2] == pytest.approx((easting, northing), abs=0.001)


def test_distance_between_two_points_agrees_with_geod():
    """Case 11-inverse; source: pyproj Geod.inv."""
    assert geometry.distance_m((-3.51, 54.6), (-3.5, 54.61)) == pytest.approx(1287.13682851, abs=1e-6)


def test_points_are_inside_where_one_sees_them_inside():
    """Case 11-point-in-polygon; source: shapely contains, obvious by hand."""
    shape = {"type": "Polygon", "coordinates": [L_SHAPE]}
    points = [(0.5, 0.5), (2, 2), (3.9, 0.9), (0.5, 2.9), (1.0001, 1.0001), (-0.1, 0)]
    inside = [geometry.holds_point(shape, *point) for point in points]
    assert inside == [True, False, True, True, False, False]

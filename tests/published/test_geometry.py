"""Geometry against PROJ and GeographicLib (pyproj 3.7, recomputed to the digits shown), and shapely's containment."""

import math
from itertools import pairwise

import numpy as np
import pytest
from pyproj import Geod
from pyproj.database import query_utm_crs_info

from monitoring.calc.plot_drawing import draw_points
from projects.calc import geometry, local_plane
from tests.published.rows import checks

SOURCE = "pyproj 3.7.2 (PROJ, Geod on WGS 84)"
GEOD = Geod(ellps="WGS84")
L_SHAPE = [[0.0, 0.0], [4.0, 0.0], [4.0, 1.0], [1.0, 1.0], [1.0, 3.0], [0.0, 3.0], [0.0, 0.0]]


@checks("11-area-multi-antimeridian")
def test_area_of_two_pieces_one_across_the_antimeridian_agrees_with_geod():
    """Case 11-area-multi-antimeridian; source: pyproj Geod, the second part recomputed at -179.995."""
    pieces = [
        [[[10, 50], [10.01, 50], [10.01, 50.01], [10, 50.01], [10, 50]]],
        [[[179.995, -17], [180.005, -17], [180.005, -16.995], [179.995, -16.995], [179.995, -17]]],
    ]
    area = geometry.geodesic_area_m2({"type": "MultiPolygon", "coordinates": pieces})
    assert area == pytest.approx(1386626.19197, abs=0.001)


@pytest.mark.parametrize(
    "ring",
    [
        [[10, 50], [10.01, 50], [10.01, 50.01], [10, 50.01], [10, 50]],
        [[179.995, -17], [-179.995, -17], [-179.995, -16.995], [179.995, -16.995], [179.995, -17]],
        [[20, 69], [20.04, 69], [20.04, 69.01], [20, 69.01], [20, 69]],
    ],
)
def test_the_local_plane_keeps_areas_and_distances(ring):
    """Shoelace in our plane against pyproj's geodesics: 1 part in 10⁶ over a kilometre or two, edges included."""
    (flat,) = local_plane.plane_ground({"type": "Polygon", "coordinates": [ring]}).polygons[0]
    x, y = flat.T
    shoelace = abs((x[:-1] * y[1:] - x[1:] * y[:-1]).sum()) / 2
    outline = [[(east + 360) % 360, north] for east, north in ring]
    theirs = GEOD.polygon_area_perimeter(*zip(*outline, strict=True))[0]
    assert shoelace == pytest.approx(abs(theirs), rel=1e-6)
    for (one, other), (start, end) in zip(pairwise(outline), pairwise(flat), strict=True):
        assert math.dist(start, end) == pytest.approx(GEOD.inv(*one, *other)[2], rel=1e-6)


def test_zones_are_those_proj_lists():
    """Our rule against the areas of use in PROJ's database, which leaves the exceptions out."""
    listed = query_utm_crs_info(datum_name="WGS 84")
    rng = np.random.default_rng(4)
    places = [(-180.0, 10.0), (-177.1, -34.9), (179.99, -0.001), (0.0, 0.0), (5.9, 55.9), (30.0, -80.0)]
    places += list(zip(rng.uniform(-180, 180, 300), rng.uniform(-80, 56, 300), strict=True))
    for longitude, latitude in places:
        found = {
            int(each.code)
            for each in listed
            if each.area_of_use.west <= longitude <= each.area_of_use.east
            and each.area_of_use.south <= latitude <= each.area_of_use.north
        }
        assert geometry.utm_epsg(longitude, latitude) in found


@pytest.mark.parametrize(
    ("zone", "inside"),
    [
        (31, [(2.99, 56), (0, 72), (8.99, 83.9), (2.9, 63.9)]),
        (32, [(3, 56), (11.99, 63.99), (9, 71.9), (6, 64)]),
        (33, [(12, 60), (9, 72), (20.99, 78)]),
        (35, [(21, 72), (32.99, 80)]),
        (36, [(33, 71.99)]),
        (37, [(33, 72), (41.99, 83.9)]),
    ],
)
def test_zones_about_norway_and_svalbard(zone, inside):
    """The exceptions of the grid's definition (United States Defense Mapping Agency TM 8358.2, from memory)."""
    assert {geometry.utm_epsg(*place) for place in inside} == {32600 + zone}


@checks("11-uniformity")
def test_points_drawn_on_a_map_fall_evenly_over_six_equal_cells():
    """Case 11-uniformity, on the ground: an L of 60 m squares at the equator, 6 seeds of 1,000 points each.

    Computed property: chi-square over six equal cells, 5 degrees of freedom, 1 in 10,000; and the middle of all
    points, 4 standard errors.
    """
    side = 60 / 111_319.49  # degrees of 60 m on the equator
    ring = [[side * x, side * y] for x, y in L_SHAPE]
    ground = {"type": "Polygon", "coordinates": [ring]}
    drawn = [
        point
        for seed in range(6)
        for point in draw_points(ground, method="random", n=1000, seed=seed, plot_radius_m=None).points
    ]
    at = np.array([(point.longitude, point.latitude) for point in drawn]) / side
    cells = np.floor(at).astype(int)
    counts = [
        ((cells == cell).all(axis=1)).sum() for cell in [(0, 0), (1, 0), (2, 0), (3, 0), (0, 1), (0, 2)]
    ]
    assert sum(counts) == 6000
    assert sum((count - 1000) ** 2 / 1000 for count in counts) < 25.7448319591
    away = (at.mean(axis=0) - [1.5, 1.0]) / [0.0153357977594, 0.0106559949468]
    assert (np.abs(away) < 4).all()


@checks(
    "11-utm-36.8--1.2",
    "11-utm-146.5--42.2",
    "11-utm-10.75-59.91",
    "11-utm-5.0-60.0",
    "11-utm--122.4-45.5",
)
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


@checks("11-inverse")
def test_distance_between_two_points_agrees_with_geod():
    """Case 11-inverse; source: pyproj Geod.inv. The bearings are only a check of the geodesics we rest on."""
    start, end = (-3.51, 54.6), (-3.5, 54.61)
    assert geometry.distance_m(start, end) == pytest.approx(1287.13682851, abs=1e-6)
    assert geometry.distance_m(end, start) == pytest.approx(1287.13682851, abs=1e-6)
    there, back, _distance = geometry.GEOD.inv(*start, *end)
    assert (there, back) == pytest.approx((30.1319304526, -149.859917764), abs=1e-6)


@checks("11-point-in-polygon")
def test_points_are_inside_where_one_sees_them_inside():
    """Case 11-point-in-polygon; source: shapely contains, obvious by hand."""
    shape = {"type": "Polygon", "coordinates": [L_SHAPE]}
    points = [(0.5, 0.5), (2, 2), (3.9, 0.9), (0.5, 2.9), (1.0001, 1.0001), (-0.1, 0)]
    inside = [geometry.holds_point(shape, *point) for point in points]
    assert inside == [True, False, True, True, False, False]

"""A boundary is accepted in every form GeoJSON allows one, and refused with what to do about it."""

import contextlib
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from projects import boundary_words, countries
from projects.calc import geometry
from projects.calc.boundary_text import BoundaryProblem
from projects.errors import Refusal
from projects.services import boundaries

RING = [[-7.5, 40.3], [-7.49, 40.3], [-7.49, 40.31], [-7.5, 40.31], [-7.5, 40.3]]
HOLE = [[-7.497, 40.303], [-7.494, 40.303], [-7.494, 40.306], [-7.497, 40.306], [-7.497, 40.303]]


def polygon(*rings, **more):
    return {"type": "Polygon", "coordinates": list(rings), **more}


def read(source, most_ha=10_000):
    return geometry.read_boundary(source, most_ha=most_ha)


def problem(source, most_ha=10_000):
    with pytest.raises(BoundaryProblem) as caught:
        read(source, most_ha)
    assert boundary_words.boundary_words(caught.value.code, caught.value.facts)  # every problem has its words
    return caught.value


@pytest.mark.parametrize(
    "wrap",
    [
        lambda shape: shape,
        json.dumps,
        lambda shape: {"type": "Feature", "properties": {}, "geometry": shape},
        lambda shape: {"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": shape}]},
        lambda shape: shape | {"bbox": [-7.5, 40.3, -7.49, 40.31]},
        lambda shape: (
            shape | {"crs": {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}}
        ),
    ],
)
def test_one_polygon_is_accepted_however_it_is_wrapped(wrap):
    found = read(wrap(polygon(RING)))
    assert found.geometry == polygon(RING)
    assert found.area_ha == pytest.approx(94.4, abs=0.2)


def test_a_hole_is_taken_out_of_the_area():
    whole, holed = read(polygon(RING)), read(polygon(RING, HOLE))
    assert holed.area_ha == pytest.approx(whole.area_ha * (1 - 0.09), rel=1e-4)


def test_the_area_does_not_depend_on_the_way_round():
    assert read(polygon(RING[::-1])).area_ha == pytest.approx(read(polygon(RING)).area_ha, rel=1e-12)
    assert (
        read(polygon(RING[::-1])).geometry == read(polygon(RING)).geometry
    )  # kept anticlockwise, as RFC 7946 asks


def test_at_most_seven_decimals_and_no_heights_are_kept():
    precise = [[lon + 1.23456e-8, lat, 812.5] for lon, lat in RING]
    precise[-1] = precise[0]
    kept = read(polygon(precise)).geometry["coordinates"][0]
    assert all(len(position) == 2 and round(position[0], 7) == position[0] for position in kept)


BOW_TIE = [[-7.5, 40.3], [-7.49, 40.31], [-7.49, 40.3], [-7.5, 40.31], [-7.5, 40.3]]
OUTSIDE = [[lon + 0.5, lat] for lon, lat in HOLE]


@pytest.mark.parametrize(
    ("source", "code"),
    [
        ("no json", "not_json"),
        ('{"type": "Polygon", "coordinates": [[[NaN, 1], [2, 1], [2, 2], [NaN, 1]]]}', "not_a_number"),
        ("[" * 100_000, "not_json"),
        ("[1, 2]", "not_geojson"),
        ({"kind": "Polygon"}, "not_geojson"),
        ({"type": "Point", "coordinates": [1, 2]}, "wrong_type"),
        ({"type": "GeometryCollection", "geometries": []}, "wrong_type"),
        ({"type": "Feature", "geometry": None}, "wrong_type"),
        ({"type": "FeatureCollection", "features": []}, "not_one_shape"),
        ({"type": "FeatureCollection", "features": [{}, {}]}, "not_one_shape"),
        ({"type": "Polygon"}, "no_coordinates"),
        (polygon(), "no_coordinates"),
        ({"type": "MultiPolygon", "coordinates": [[]]}, "no_coordinates"),
        ({"type": "Polygon", "coordinates": [5]}, "no_coordinates"),
        (polygon(RING[:3]), "too_few_corners"),
        (polygon(RING[:-1]), "not_closed"),
        (polygon(BOW_TIE), "crosses_itself"),
        (polygon(RING, OUTSIDE), "hole_outside"),
        (polygon([[0, 0], [1, 1], [2, 2], [0, 0]]), "crosses_itself"),
        (polygon([[1, 1], [1, 1], [1, 1], [1, 1]]), "no_area"),
        (polygon([[1, 95], [2, 95], [2, 96], [1, 95]]), "swapped"),
        (polygon([[5e5, 4.4e6], [5.1e5, 4.4e6], [5.1e5, 4.5e6], [5e5, 4.4e6]]), "out_of_range"),
        (polygon([["7", 1], [2, 1], [2, 2], ["7", 1]]), "not_a_number"),
        (polygon([[True, 1], [2, 1], [2, 2], [True, 1]]), "not_a_number"),
        (polygon([[10**400, 1], [2, 1], [2, 2], [10**400, 1]]), "not_a_number"),
        (polygon([[1], [2], [3], [1]]), "not_a_number"),
        (polygon([[179.9, 1], [-179.9, 1], [-179.9, 2], [179.9, 1]]), "crosses_date_line"),
        (polygon([[0, 0], [9, 0], [9, 9], [0, 9], [0, 0]]), "too_large"),
        (polygon(RING, crs={"properties": {"name": "urn:ogc:def:crs:EPSG::3857"}}), "other_reference"),
        (polygon(RING, crs="here"), "other_reference"),
        (polygon([[i * 1e-5, 0] for i in range(20_001)]), "too_many_corners"),
    ],
)  # fmt: skip
def test_what_cannot_be_a_boundary_is_refused_with_its_reason(source, code):
    assert problem(source).code == code


def test_a_crossing_is_told_with_its_place():
    facts = problem(polygon(BOW_TIE)).facts
    assert (facts["longitude"], facts["latitude"]) == pytest.approx((-7.495, 40.305), abs=1e-5)


@given(
    st.recursive(
        st.none()
        | st.booleans()
        | st.floats()
        | st.text(max_size=5)
        | st.sampled_from(["Polygon", "Feature"]),
        lambda inner: (
            st.lists(inner, max_size=4)
            | st.dictionaries(st.sampled_from(["type", "coordinates", "geometry", "features", "crs"]), inner)
        ),
        max_leaves=20,
    )
)
@settings(max_examples=80, deadline=None)
def test_any_json_is_read_or_refused_but_never_breaks(value):
    for source in (value, json.dumps(value)):
        if isinstance(source, str | dict):
            with contextlib.suppress(BoundaryProblem):
                read(source)


def test_a_site_in_portugal_drawn_with_exchanged_axes_is_refused():
    exchanged = polygon([[lat, lon] for lon, lat in RING])
    with pytest.raises(Refusal) as caught:
        boundaries.site_boundary(exchanged, country_code="PT")
    assert (caught.value.code, caught.value.field) == ("looks_swapped", "boundary")
    assert boundaries.site_boundary(polygon(RING), country_code="PT").area_ha > 90


def test_a_site_near_the_equator_is_not_taken_for_exchanged():
    kenya = polygon([[36.8, -0.3], [36.81, -0.3], [36.81, -0.29], [36.8, -0.29], [36.8, -0.3]])
    assert boundaries.site_boundary(kenya, country_code="KE").area_ha > 100


def test_every_country_has_a_name_and_a_place():
    assert countries.names()["KE"] == "Kenya"
    assert all(
        abs(lon) <= 180 and abs(lat) <= 90
        for code in countries.names()
        for lon, lat in countries.places_in(code)
    )
    assert countries.places_in("PT")[0] == pytest.approx((-9.13, 38.72), abs=0.05)


def test_a_block_half_outside_its_site_is_half_outside():
    shifted = polygon([[lon + 0.005, lat] for lon, lat in RING])
    assert geometry.share_outside(shifted, polygon(RING)) == pytest.approx(0.5, abs=1e-3)
    assert geometry.share_outside(polygon(HOLE), polygon(RING)) == 0

"""Corners typed by hand, GeoJSON files, and boundaries at sea or abroad: what is taken and what is asked."""

import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from projects import countries, country_boxes
from projects.calc.boundary_text import BoundaryProblem
from projects.calc.geometry import read_boundary
from projects.calc.typed_corners import looks_typed, polygon_of
from projects.models import Block, Site
from projects.services import sites
from tests.places.conftest import square

SQUARE = "40.30, -7.50\n40.30, -7.49\n40.31, -7.49\n40.31, -7.50"
AT_SEA = square(-20, 46)  # 6° of latitude north of the box of the Azores
BRAZIL = square(-47, -15)


@pytest.mark.parametrize(
    "line",
    [
        "40.3, -7.5", "40.3,-7.5", "40.3 -7.5", "40.3; -7.5", "40,3; -7,5", "40,3 -7,5", "40,3, -7,5", "+40.3  -7.5",
        "40.3N 7.5W", "40.3 N, 7.5 W", "N40.3 W7.5", "n 40.3 w 7.5", "40.3° N 7.5° W", "40.3°, -7.5°", "40.3 −7.5",
    ],
)  # fmt: skip
def test_a_corner_is_understood_however_it_is_parted(line):
    assert looks_typed(line)
    corners = polygon_of(f"{line}\n41 -7\n42 -8")["coordinates"][0]
    assert corners == [[-7.5, 40.3], [-7.0, 41.0], [-8.0, 42.0], [-7.5, 40.3]]


@pytest.mark.parametrize(
    "line", ["40.3", "40.3 -7.5 12", "7.5W 40.3N", "40.3N 7.5", "-40.3S 7E", "40,3,-7,5", "40.3, west", "4e1 7", "1 "]
)  # fmt: skip
def test_what_is_no_corner_is_named_with_its_line(line):
    with pytest.raises(BoundaryProblem) as caught:
        polygon_of(f"40.3 -7.5\n\n{line}\n41 -7")
    assert caught.value.code == "corner_not_read"
    assert caught.value.facts == {"line": 3, "value": line.strip()}


@pytest.mark.parametrize("text", ["1 2\n3 4", "1 2\n1 2", "1 2\n3 4\n1 2"])
def test_two_corners_are_no_area(text):
    with pytest.raises(BoundaryProblem) as caught:
        polygon_of(text)
    assert caught.value.code == "too_few_typed"


def test_typed_and_pasted_boundaries_are_the_same():
    typed = read_boundary(polygon_of(SQUARE), most_ha=1000)
    assert typed == read_boundary(square(-7.5, 40.3), most_ha=1000)
    closed = polygon_of(SQUARE + "\n40.30, -7.50")
    assert closed == polygon_of(SQUARE)


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused_with_a_known_code(text):
    try:
        polygon_of(text)
    except BoundaryProblem as problem:
        assert problem.code in ("corner_not_read", "too_few_typed")


def test_every_time_zone_city_lies_in_its_countrys_box():
    """The public-domain zone.tab against boxes written from memory."""
    wrong = [
        (code, place)
        for code in countries.names()
        if country_boxes.boxes_of(code)
        for place in countries.places_in(code)
        if country_boxes.outside_m(code, *place) > 0
    ]
    assert not wrong


def test_boxes_are_boxes_and_nearly_every_country_has_one():
    rows = [row.split() for line in country_boxes.BOXES.split("\n") for row in line.split("|") if row]
    assert all(len(row) == 5 and row[0] in countries.names() for row in rows)
    for _code, *numbers in rows:
        west, south, east, north = map(float, numbers)
        assert -180 <= west < east <= 180 and -90 <= south < north <= 90
    without = {code for code in countries.names() if not country_boxes.boxes_of(code)}
    assert without == {"AQ", "BV", "CC", "CX", "HM", "TF", "UM"}
    assert country_boxes.outside_m("AQ", 10, 10) == 0


def test_how_far_outside_is_the_way_to_the_nearest_edge():
    assert country_boxes.outside_m("PT", -8, 40) == 0
    assert country_boxes.outside_m("PT", -28, 38.5) == 0  # the Azores
    assert country_boxes.outside_m("KE", 44, 0) == pytest.approx(222_639, rel=1e-3)  # 2° of equator, WGS 84
    assert country_boxes.outside_m("FJ", -179.5, -17) == country_boxes.outside_m("FJ", 178, -17) == 0


FORM = {"name": "New site", "country_code": "PT", "time_zone": "Europe/Lisbon"}


@pytest.fixture
def add(signed_in, ana, hill):
    browser = signed_in(ana)
    address = reverse("projects:site_new", kwargs={"org": "hill"})
    return lambda **values: browser.post(address, FORM | values)


def text_of(response):
    return " ".join(response.content.decode().split())


def test_a_site_from_typed_corners(add):
    assert add(boundary=SQUARE).status_code == 302
    site = Site.objects.get()
    assert site.boundary == read_boundary(square(-7.5, 40.3), most_ha=1000).geometry
    assert site.gross_area_ha == pytest.approx(94.4, abs=0.5)


def test_a_site_from_a_file_and_a_file_with_faults_is_mended_in_the_box(add):
    broken = square(-7.5, 40.3).replace("]]]", "]]")
    answer = add(boundary_file=SimpleUploadedFile("site.geojson", broken.encode("utf-8-sig")))
    assert answer.status_code == 422
    assert "This is not JSON" in text_of(answer)
    assert "&quot;Polygon&quot;" in text_of(answer)
    assert add(boundary_file=SimpleUploadedFile("site.geojson", square().encode())).status_code == 302
    assert Site.objects.get().boundary["type"] == "Polygon"


def test_a_file_that_is_no_text_or_far_too_large_is_refused(add, monkeypatch):
    answer = add(boundary_file=SimpleUploadedFile("site.zip", b"PK\x03\x04\xff\xfe"))
    assert answer.status_code == 422 and "The file is not text" in text_of(answer)
    monkeypatch.setattr("projects.forms.boundaries.MOST_BYTES", 10)
    answer = add(boundary_file=SimpleUploadedFile("site.geojson", square().encode()))
    assert answer.status_code == 422 and "too large for one boundary" in text_of(answer)
    assert not Site.objects.exists()


@pytest.mark.parametrize(
    ("boundary", "words"),
    [
        (AT_SEA, "670 km outside Portugal"),
        (BRAZIL, "outside Portugal: at sea, or in another country"),
        (square(0.2, 0.3), "the sea off Africa"),
        (square(40.3, -7.5), "right where it should be with its numbers exchanged"),
        ("40.3 -7.5\n40.3 seven\n40.4 -7.5", "Line 2, “40.3 seven”, is not a corner"),
        ("40.3 -7.5\n40.3 -7.4", "2 corners were typed"),
        ("40.30 -7.50\n40.31 -7.49\n40.30 -7.49\n40.31 -7.50", "crosses or touches itself"),
        ("30 -9\n30 9\n40 9\n40 -9", "more than the 200 000 ha"),
        ('{"type": "Polygon", "coordinates": [[[-7.5, 40.3], [-7.4, 40.3], [-7.4, 40.4], [-7.5, 40.4]]]}', "is open"),
        ("my farm", "This is not JSON"),
    ],
)  # fmt: skip
def test_a_boundary_that_cannot_be_gets_its_own_words_and_stays_in_the_box(add, boundary, words):
    answer = add(boundary=boundary, access_notes="by the mill")
    assert answer.status_code == 422
    assert words in text_of(answer)
    assert "by the mill" in text_of(answer)
    assert boundary.split("\n")[0][:12].replace('"', "&quot;") in answer.content.decode()
    assert not Site.objects.exists()


def test_a_boundary_out_of_place_is_taken_once_somebody_says_that_it_is_meant(add, signed_in, ana, actor):
    assert "does lie there" not in text_of(add(boundary="my farm"))
    assert "does lie there" in text_of(add(boundary=BRAZIL))
    assert add(boundary=BRAZIL, lies_there="on").status_code == 302
    site = Site.objects.get()
    edit = reverse("projects:site_edit", kwargs={"org": "hill", "uid": site.uid})
    browser = signed_in(ana)
    assert "does lie there" not in text_of(browser.get(edit))
    again = FORM | {"boundary": json.dumps(site.boundary), "region": "Upper"}
    assert browser.post(edit, again).status_code == 302  # it stands: not asked again
    moved = browser.post(edit, again | {"boundary": square(-46, -15)})
    assert moved.status_code == 422
    elsewhere = browser.post(edit, again | {"country_code": "ES"})
    assert elsewhere.status_code == 422 and "outside Spain" in text_of(elsewhere)
    assert browser.post(edit, again | {"country_code": "BR"}).status_code == 302


def test_a_boundary_just_off_a_rough_box_is_not_asked_about(actor):
    assert sites.make_site(actor=actor, **FORM, boundary=square(-5.6, 40.3)).boundary
    assert sites.make_site(actor=actor, **FORM | {"country_code": "AQ"}, boundary=square(10, 50)).boundary


def test_a_block_a_hundred_kilometres_from_its_site_is_refused(signed_in, ana, actor, site, project):
    sites.edit_site(actor=actor, site=site, boundary=square(-7.5, 40.3))
    browser = signed_in(ana)
    address = reverse("projects:block_new", kwargs={"org": "hill", "uid": site.uid})
    form = {
        "name": "B1", "project": project.pk, "layout": "ground", "pattern": "square",
        "geometry": square(-7.5, 41.4), "aspect_note": "kept",
    }  # fmt: skip
    answer = browser.post(address, form)
    assert answer.status_code == 422
    assert "122 km from its site, Upper site" in text_of(answer)
    assert 'value="kept"' in text_of(answer)
    upload = SimpleUploadedFile("b.geojson", square(-7.499, 40.301, 0.002).encode())
    assert browser.post(address, form | {"geometry": "", "geometry_file": upload}).status_code == 302
    block = Block.objects.get()
    redraw = reverse("projects:block_ground", kwargs={"org": "hill", "uid": block.uid})
    typed = "40.301 -7.499\n40.301 -7.498\n40.302 -7.498"
    assert browser.post(redraw, {"after": "1", "geometry": typed}).status_code == 302
    assert block.grounds.first().geometry["coordinates"][0][0] == [-7.499, 40.301]

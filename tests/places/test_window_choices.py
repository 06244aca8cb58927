"""What the page of windows is worked out with: soil samples, months the site is shut, and numbers typed otherwise."""

from dataclasses import replace
from datetime import date

import pytest
from django.urls import reverse

from projects.calc.planting_windows import RULES
from projects.forms.window_choices import AsksForm
from projects.models import HistoryEntry, PlantingWindow, SoilSample
from projects.selectors.planting_windows import soil_of
from projects.services import sites, windows
from tests.places.conftest import square

NORMALS = {
    "mean_minimum_c": [-12, -11, -5, 1, 7, 12, 14, 13, 8, 3, -2, -8],
    "mean_maximum_c": [-3, -1, 5, 12, 19, 24, 26, 25, 19, 12, 4, -1],
    "rain_mm": [40, 35, 45, 55, 70, 80, 85, 80, 65, 60, 55, 45],
}


@pytest.fixture(autouse=True)
def cold(actor, site):
    site = sites.edit_site(actor=actor, site=site, boundary=square(), country_code="PT")
    return windows.set_climate(actor=actor, site=site, climate_normals=NORMALS, climate_source="Hill station")


@pytest.fixture
def page(signed_in, ana, block):
    browser = signed_in(ana)
    address = reverse("projects:block_windows", kwargs={"org": "hill", "uid": block.uid})
    return lambda **query: browser.get(address, query)


def text_of(response):
    return " ".join(response.content.decode().split())


def found(response, stock="container"):
    return next(row for row in response.context["year"].rows if row.stock_type == stock).found


def days(response, stock="container"):
    return sum(each.window.days for each in found(response, stock))


def sample(of, label="S1", **fields):
    values = {"site": of.site, "block": of, "taken_on": date(2026, 1, 5), "label": label, **fields}
    return SoilSample.objects.create(organisation=of.organisation, **values)


def test_the_soil_begins_as_the_blocks_own_samples_say(page, block):
    assert "No soil sample is written down" in text_of(page())
    sample(block, "far", block=None, texture="coarse", depth_cm=20)
    assert soil_of(block).texture == "coarse"
    sample(block, "S1", texture="fine", depth_cm=30, drainage="poor")
    sample(block, "S2", texture="fine", depth_cm=40, drainage="flooded")
    sample(block, "S3", texture="fine", drainage="poor")
    soil = soil_of(block)
    assert (soil.texture, soil.depth_cm, soil.is_wet, soil.n_samples) == ("fine", 35, True, 3)
    answer = page()
    assert 'name="depth_cm" value="35"' in text_of(answer)
    assert "frost would lift small plugs planted later" in text_of(answer)
    assert days(answer) < days(page(texture="fine", depth_cm="35"))  # unticked: no longer wet


@pytest.mark.parametrize(
    ("fields", "depth_cm", "is_wet"),
    [
        ({"texture": "medium", "drainage": "poor"}, 50, False),
        ({"texture": "fine", "drainage": "free"}, 50, False),
        ({"depth_cm": 4}, 10, False),
        ({"depth_cm": 900}, 200, False),
    ],
)
def test_odd_samples_stay_within_what_the_page_can_take(page, block, fields, depth_cm, is_wet):
    sample(block, **fields)
    soil = soil_of(block)
    assert (soil.depth_cm, soil.is_wet) == (depth_cm, is_wet)
    assert page().status_code == 200


def test_months_in_which_the_site_is_shut_close_its_days(page):
    before, after = page(), page(shut_from="4", shut_to="6")
    assert days(after) == days(before) - 91
    assert "the site cannot be reached before" in text_of(after)
    half = page(shut_from="4")
    assert half.status_code == 422
    assert "Choose both months, or neither" in text_of(half)


def test_numbers_typed_otherwise_are_used_and_shown(page):
    usual, patient = page(), page(**{"container-root_weeks": "10"})
    assert days(patient) < days(usual)
    assert days(patient, "wildling") == days(usual, "wildling")
    assert 'value="10"' in text_of(patient)
    assert "Back to the usual numbers" in text_of(patient)
    assert "Back to the usual numbers" not in text_of(usual)
    asks = AsksForm({"container-moist_share": "70", "bare_root-heat_c": "31,5"})
    assert asks.is_valid()
    assert asks.rules()["container"] == replace(RULES["container"], moist_share=0.7)
    assert asks.rules()["bare_root"] == replace(RULES["bare_root"], heat_c=31.5)
    assert AsksForm({}).rules() == RULES


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ({"container-root_weeks": "soon"}, "Write a number"),
        ({"container-root_weeks": "80"}, "Write 52 or less"),
        ({"container-drought_share": "60"}, "moist enough to plant in"),
    ],
)
def test_a_number_that_cannot_be_gets_its_words_and_is_not_lost(page, query, words):
    answer = page(**query)
    assert answer.status_code == 422
    assert words in text_of(answer)
    assert f'value="{next(iter(query.values()))}"' in text_of(answer)
    assert answer.context["year"] is not None


def test_windows_written_down_from_other_numbers_say_so(signed_in, ana, block, page):
    browser = signed_in(ana)
    keep = reverse("projects:windows_keep", kwargs={"org": "hill", "uid": block.uid})
    kept = dict(page(**{"container-root_weeks": "10", "shut_from": "3", "shut_to": "5"}).context["kept"])
    assert kept["container-root_weeks"] == "10"
    assert browser.post(keep, kept | {"stock_types": ["container"]}).status_code == 302
    (row,) = PlantingWindow.objects.all()
    assert row.source == windows.COMPUTED_OTHERWISE
    assert row.opens_on.month == 6
    assert row.opens_because == "the site cannot be reached before"
    entry = HistoryEntry.objects.filter(verb="block.windows_written").last()
    assert "container-grown" in entry.change["thresholds"][1][0] and "10" in entry.change["thresholds"][1][0]
    assert browser.post(keep, {"stock_types": ["container"]}).status_code == 302
    (row,) = PlantingWindow.objects.all()
    assert row.source == windows.COMPUTED


def test_nothing_is_written_down_while_a_number_cannot_be_read(signed_in, ana, block):
    keep = reverse("projects:windows_keep", kwargs={"org": "hill", "uid": block.uid})
    form = {"stock_types": ["container"], "container-root_weeks": "soon"}
    answer = signed_in(ana).post(keep, form, follow=True)
    assert "Mend the numbers first" in text_of(answer)
    assert not PlantingWindow.objects.exists()


def test_the_page_promises_no_day_to_be_safe(page):
    text = text_of(page())
    assert "latest day with time to root" in text
    assert "safe" not in text.lower()
    assert text.count('<svg class="year-ribbon') == 2

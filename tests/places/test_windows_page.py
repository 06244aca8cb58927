"""From pasted normals to planting windows written down: the page, its refusals, and what orders then rest on."""

from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from projects.models import HistoryEntry, PlantingWindow
from projects.services import sites, windows
from tests.places.conftest import square

MONTHS = """January;5;13;90
February;5;14;80
March;7;17;60
April;8;19;55
May;11;23;35
June;15;28;10
July;17;32;3
August;17;32;5
September;15;28;25
October;12;22;75
November;8;17;95
December;6;14;100"""


def address(name, row):
    return reverse(f"projects:{name}", kwargs={"org": "hill", "uid": row.uid})


@pytest.fixture(autouse=True)
def drawn(actor, site):
    return sites.edit_site(actor=actor, site=site, boundary=square(), country_code="PT")


@pytest.fixture
def warm(actor, site, drawn):
    normals = {
        "mean_minimum_c": [5, 5, 7, 8, 11, 15, 17, 17, 15, 12, 8, 6],
        "mean_maximum_c": [13, 14, 17, 19, 23, 28, 32, 32, 28, 22, 17, 14],
        "rain_mm": [90, 80, 60, 55, 35, 10, 3, 5, 25, 75, 95, 100],
    }
    return windows.set_climate(
        actor=actor, site=site, climate_normals=normals, climate_source="Hill station 1991-2020"
    )


def answer(signed_in, person, site, **form):
    return signed_in(person).post(address("site_climate", site), {"climate_source": "Hill station", **form})


def test_pasted_normals_are_stored_and_shown_again(signed_in, ana, site):
    assert answer(signed_in, ana, site, months=MONTHS).status_code == 302
    site.refresh_from_db()
    assert site.climate_normals["rain_mm"][6] == 3
    assert site.climate_source == "Hill station"
    page = signed_in(ana).get(address("site_climate", site)).content.decode()
    assert "17; 32; 3" in page


def test_a_csv_file_does_too(signed_in, ana, site):
    text = "month,min,max,rain\n" + MONTHS.replace(";", ",")
    upload = SimpleUploadedFile("normals.csv", text.encode("utf-8-sig"))
    assert answer(signed_in, ana, site, file=upload).status_code == 302
    site.refresh_from_db()
    assert site.climate_normals["mean_minimum_c"][0] == 5


@pytest.mark.parametrize(
    ("months", "words"),
    [
        ("\n".join(MONTHS.splitlines()[:11]), "There are 11 months; twelve are needed"),
        (
            MONTHS.replace("7;17;60", "27;17;60"),
            "Line 3: the mean lowest temperature (27) lies above the highest",
        ),
        (MONTHS.replace("7;17;60", "7;mild;60"), "Line 3, mean highest temperature: “mild” is not a number"),
        (MONTHS.replace("7;17;60", "7;170;60"), "170 cannot be"),
        (MONTHS.replace("7;17;60", "7;17;-4"), "-4 cannot be"),
        (MONTHS.replace("7;17;60", "7;17"), "Line 3 has 3 numbers|Line 3 has 2 numbers|Line 3"),
        ("", "Paste twelve lines"),
    ],
)
def test_bad_normals_get_their_own_words_and_stay_in_the_box(signed_in, ana, site, months, words):
    page = answer(signed_in, ana, site, months=months)
    assert page.status_code == 422
    assert any(each in page.content.decode() for each in words.split("|"))
    assert not months or "28;25" in page.content.decode()
    site.refresh_from_db()
    assert not site.climate_normals


def test_a_file_that_is_no_text_is_refused(signed_in, ana, site):
    page = answer(signed_in, ana, site, file=SimpleUploadedFile("n.xls", b"\xff\xfe\x00\xd0\xcf"))
    assert page.status_code == 422
    assert "Save it as CSV" in page.content.decode()


def test_the_page_says_what_is_missing(signed_in, ana, ben, block):
    page = signed_in(ana).get(address("block_windows", block)).content.decode()
    assert "no climate normals yet" in page
    assert "Add the normals" in page


def test_the_page_shows_windows_and_why_they_close(signed_in, ana, block, warm):
    page = signed_in(ana).get(address("block_windows", block)).content.decode()
    assert "container-grown" in page
    assert "the soil is too dry before" in page
    assert "planted later, drought comes before roots have settled" in page
    assert "Hill station 1991-2020" in page


def test_shallow_sand_closes_sooner_than_deep_loam(signed_in, ana, block, warm):
    browser = signed_in(ana)

    def days(query):
        response = browser.get(address("block_windows", block) + query)
        row = next(row for row in response.context["year"].rows if row.stock_type == "container")
        return sum(found.window.days for found in row.found)

    assert days("?texture=coarse&depth_cm=20") < days("?texture=medium&depth_cm=100")


def test_a_depth_in_words_is_refused_and_the_page_still_stands(signed_in, ana, block, warm):
    page = signed_in(ana).get(address("block_windows", block) + "?depth_cm=deep")
    assert page.status_code == 422
    assert "Write a number" in page.content.decode()


def test_ticked_windows_are_written_down_with_their_reasons_and_replace_older_ones(
    actor, signed_in, ana, block, warm
):
    by_hand = windows.state_window(
        actor=actor, block=block, stock_type="container",
        opens_on=date(2026, 11, 10), closes_on=date(2026, 12, 20),
    )  # fmt: skip
    form = {"texture": "medium", "depth_cm": "50", "stock_types": ["container", "bare_root"]}
    for _ in range(2):
        assert signed_in(ana).post(address("windows_keep", block), form).status_code == 302
    computed = PlantingWindow.objects.exclude(pk=by_hand.pk)
    assert {row.stock_type for row in computed} == {"container", "bare_root"}
    assert computed.filter(stock_type="container").count() == 1
    container = computed.get(stock_type="container")
    assert container.closes_because.startswith("planted later, drought")
    assert container.source == windows.COMPUTED
    assert (container.opens_on.month, container.closes_on.month) in {(10, 5), (11, 5), (11, 4), (10, 4)}
    assert HistoryEntry.objects.filter(verb="block.windows_written").count() == 3


def test_nothing_ticked_says_so(signed_in, ana, block, warm):
    page = signed_in(ana).post(address("windows_keep", block), {"texture": "medium"}, follow=True)
    assert "Tick at least one stock type" in page.content.decode()
    assert not PlantingWindow.objects.exists()


def test_a_window_stated_by_hand_and_taken_away(signed_in, ben, block):
    form = {
        "stock_type": "bare_root",
        "opens_on": "2026-12-01",
        "closes_on": "2027-02-28",
        "closes_because": "buds",
    }
    assert signed_in(ben).post(address("window_new", block), form).status_code == 302
    window = PlantingWindow.objects.get()
    assert window.closes_because == "buds"
    wrong = signed_in(ben).post(address("window_new", block), form | {"closes_on": "2026-11-01"})
    assert wrong.status_code == 422
    assert "The last day lies before the first" in wrong.content.decode()
    assert signed_in(ben).post(address("window_remove", window)).status_code == 302
    assert not PlantingWindow.objects.exists()

"""The plan on paper: a PDF set from data alone, a workbook that computes nothing, a blank worksheet."""

import io
import json
import re
import xml.etree.ElementTree as ET
from datetime import date

import numpy as np
import openpyxl
import pypdfium2
import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from projects import models as p
from projects import plan_words
from projects.calc.plan_map import draw_map, metres_per_degree, round_length
from projects.calc.planting_windows import PlantingYear
from projects.documents import items
from projects.documents.names import named, with_names
from projects.documents.typesetting import set_pages
from projects.documents.workbook import workbook
from projects.documents.worksheet_pages import worksheet_pages
from projects.selectors.plan_content import content_of
from projects.selectors.plan_papers import content_for, pages_for
from projects.selectors.plan_windows import best_week
from projects.services import erasure, plans
from projects.services.plan_approval import approve_plan
from tests import factories
from tests.planning.plan_rows import Planned

HOSTILE = '#panic("out") = * _ ` $x$ <b> @ref \\ [a] {1} // "q" \' %(n)s ' + "{{ 7 }} &amp;"


@pytest.fixture
def planned(db):
    return Planned()


def text_of(pdf: bytes) -> str:
    """All words of a PDF, white space as single spaces."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        found = []
        for number in range(len(document)):
            page = document[number]
            found.append(page.get_textpage().get_text_range())
            page.close()
        return re.sub(r"[\s\u00a0\u202f\ufffe]+", " ", " ".join(found))
    finally:
        document.close()


def document(planned: Planned) -> str:
    return text_of(set_pages(pages_for(planned.actor, planned.plan)))


# --- the document ---------------------------------------------------------------------------------
def test_the_document_says_what_the_plan_says(planned):
    plans.edit_plan(actor=planned.actor, plan=planned.plan, season=planned.season)
    planned.plan.refresh_from_db()
    words = document(planned)
    for said in (
        "Planting plan: Hedges", "First try", "Shade for the school.", "draft, not approved", "112, at the chapel",
        "Block 1: East", "Block 2: West", "Quercus robur", "Acer campestre", "buds swell", "This winter",
        "EUR 330.00", "80 % (60 to 90 %)", "Survival rests on: common practice", "Old well by the gate.",
        "tenure 7", "About 480 living trees", "nobody is known to sell it", "The budget is not yet decided.",
        "no expected gain is written down", "page 1 of",
    ):  # fmt: skip
        assert said in words, said
    assert words.count("draft, not approved") >= 4  # on every page


def test_the_document_names_nobody_who_agreed(planned):
    words = document(planned)
    assert "Ana Reis" not in words
    assert "is held in the records" in words


def test_a_missing_emergency_number_is_said_in_bold_with_what_to_do(planned):
    p.Site.objects.update(emergency_contact="")
    planned.plan.refresh_from_db()
    pages = pages_for(planned.actor, planned.plan)
    box = next(item for item in pages["items"] if item["k"] == "box" and "emergency" in item["title"])
    assert box["grave"]
    assert "Find out before anybody goes there" in document(planned)


def test_a_stop_somebody_answers_for_carries_their_name_and_reason(planned):
    from django.utils import timezone

    p.SiteAssessment.objects.update(answers=planned.site.assessment.answers | {"peat": "yes"})
    p.ReadinessOverride.objects.create(
        organisation=planned.org, site=planned.site, stop="peat", reason="thin and dry", approved_at=timezone.now(),
        approved_by=planned.manager.person,
    )  # fmt: skip
    assert "peat: manager of hill answers for it" in document(planned)


@pytest.mark.parametrize("text", [HOSTILE, '#import "/etc/passwd"', "=HYPERLINK(1)", "ё ж ș ł Ω ő", "a\x0bb"])
def test_what_people_typed_is_set_as_they_typed_it(planned, text):
    p.Project.objects.update(name=text[:200], purpose=text)
    p.Block.objects.filter(pk=planned.blocks[0].pk).update(name=text[:200], hazards=text)
    p.Site.objects.update(name=text, access_notes=text, emergency_contact=text, climate_source=text)
    p.Plan.objects.update(title=text, note=text)
    planned.plan = p.Plan.objects.select_related("project", "season").get(pk=planned.plan.pk)
    planned.plan.project.refresh_from_db()
    words = document(planned)
    wanted = re.sub(r"\s+", " ", text.replace("\x0b", " ")).strip()
    squeezed = re.sub(r"\s|\ufffe|-", "", words)
    assert re.sub(r"\s|-", "", wanted) in squeezed


@pytest.mark.parametrize(
    ("letters", "claims"), [("Šiška Ωж", True), ("مزرعة", True), ("樹", False), ("🌳", False)]
)
def test_letters_no_font_holds_cost_the_claim_and_not_the_document(letters, claims):
    pdf = set_pages(bare([items.heading("x", 1), items.words(letters)]))
    assert (b"pdfuaid:part" in pdf) == claims
    assert b"/StructTreeRoot" in pdf


@settings(max_examples=15, deadline=None)
@given(st.text(max_size=60))
def test_no_text_breaks_the_setting(text):
    pages = bare([items.heading(text or "x", 1), items.words(text), items.facts([(text, text)]), items.box(text, text),
                  items.table([items.column(text)], [[text]], caption=text), items.points([text])])  # fmt: skip
    assert set_pages(pages | {"title": text or "x", "running": text, "footer": text}).startswith(b"%PDF")


def bare(parts, **more):
    return {
        "title": "T", "author": "o", "lang": "en", "region": "gb", "paper": "a4", "running": "", "state": "",
        "is_draft": True, "footer": "", "page_words": ["page", "of"], "items": parts, **more,
    }  # fmt: skip


def test_the_same_plan_gives_the_same_bytes(planned):
    pages = pages_for(planned.actor, planned.plan)
    assert set_pages(pages) == set_pages(json.loads(json.dumps(pages)))


def test_the_file_is_tagged_titled_and_says_its_language(planned):
    pdf = set_pages(pages_for(planned.actor, planned.plan))
    assert b"/StructTreeRoot" in pdf
    assert b"pdfuaid:part" in pdf
    assert b"(en-GB)" in pdf
    opened = pypdfium2.PdfDocument(pdf)
    assert opened.get_metadata_value("Title") == "Planting plan: Hedges"
    fonts = set(re.findall(rb"/BaseFont ?/[A-Z]{6}\+([A-Za-z0-9-]+)", pdf))
    opened.close()
    assert fonts
    assert all(b"SourceSans3" in font for font in fonts)  # embedded, and ours


def test_paper_follows_the_organisations_units():
    for paper, size in (("a4", (595, 842)), ("us-letter", (612, 792))):
        opened = pypdfium2.PdfDocument(set_pages(bare([items.heading("x", 1)], paper=paper)))
        assert tuple(round(side) for side in opened[0].get_size()) == size
        opened.close()


def test_an_american_organisation_reads_feet_and_acres(db):
    planned = Planned(units="us")
    assert pages_for(planned.actor, planned.plan)["paper"] == "us-letter"
    words = document(planned)
    assert "1.2 acres" in words
    assert not re.search(r"\d ha\b|\d per ha\b|\d m\b", words)


# --- frozen ---------------------------------------------------------------------------------------
def test_the_papers_of_an_approved_version_never_change(planned):
    approve_plan(actor=planned.actor, plan=planned.plan)
    plan = p.Plan.objects.select_related("project", "season").get(pk=planned.plan.pk)
    pdf = set_pages(pages_for(planned.actor, plan))
    frozen = json.dumps(plan.frozen, sort_keys=True)
    p.Project.objects.update(name="Other", purpose="Other", currency="USD")
    p.Site.objects.update(name="Other", boundary=None, emergency_contact="", climate_normals=None)
    p.Block.objects.update(name="Other", row_spacing_m=9)
    p.BlockGround.objects.update(gross_area_ha=9, net_area_ha=9)
    p.Organisation.objects.update(units="us", language="pt", name="Other")
    p.PlantingWindow.objects.all().delete()
    p.MixLine.objects.update(unit_price_minor=999, quantity=9)
    p.Consent.objects.all().delete()
    type(planned.lines[0].species).objects.filter(slug="quercus-robur").update(scientific_name="Other other")
    plan = p.Plan.objects.select_related("project", "season").get(pk=plan.pk)
    assert json.dumps(plan.frozen, sort_keys=True) == frozen
    assert set_pages(pages_for(planned.actor, plan)) == pdf
    assert "Other" not in text_of(pdf)
    assert content_for(planned.actor, plan)["totals"]["plant_costs"] == [["EUR", 33000]]
    assert "approved by manager of hill (Manager) on" in text_of(pdf)


def test_a_frozen_version_holds_no_names_and_they_can_still_be_erased(planned):
    approve_plan(actor=planned.actor, plan=planned.plan)
    plan = p.Plan.objects.select_related("project", "season").get(pk=planned.plan.pk)
    person = planned.manager.person
    assert person.name not in json.dumps(plan.frozen)
    assert person.name in text_of(set_pages(pages_for(planned.actor, plan)))
    erasure.erase_person(actor=planned.actor, person=person, reason="asked for it")
    words = text_of(set_pages(pages_for(planned.actor, plan)))
    assert "manager of hill" not in words
    assert "a person whose name was removed" in words


def test_a_mark_gives_no_name_of_another_organisation(planned):
    stranger = factories.member(factories.organisation("other"), "manager").person
    assert with_names(planned.org, [f"x{named(stranger)}y"]) == ["xy"]


# --- the workbook ---------------------------------------------------------------------------------
def opened(planned: Planned) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(workbook(content_of(planned.actor, planned.plan))))


def test_the_workbook_has_its_sheets_and_numbers_are_numbers(planned):
    book = opened(planned)
    assert book.sheetnames == [
        "Overview", "Blocks", "Mix", "Windows", "Orders", "Deliveries", "Budget", "Benefits", "Cautions", "Columns"
    ]  # fmt: skip
    heads = [cell.value for cell in book["Mix"][1]]
    first = dict(zip(heads, (cell.value for cell in book["Mix"][2]), strict=True))
    assert first["Plants [plants]"] == 300
    assert first["Price of one [money]"] == 0.55
    assert first["Survival [share]"] == 0.8
    assert "Net area [ha]" in [cell.value for cell in book["Blocks"][1]]
    told = {(row[0].value, row[1].value) for row in book["Columns"].iter_rows(min_row=2)}
    for sheet in book.worksheets[:-1]:
        for cell in sheet[1]:
            assert (sheet.title, cell.value.split(" [")[0]) in told


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "#N/A", "=cmd|' /C calc'!A0"])
def test_text_in_the_workbook_stays_text(planned, text):
    p.Block.objects.filter(pk=planned.blocks[0].pk).update(name=text)
    p.Project.objects.update(name=text)
    planned.plan.project.name = text
    book = opened(planned)
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert sum(cell.value == text for cell in cells) >= 3
    assert all(cell.data_type not in ("f", "e") for cell in cells)
    assert all(cell.quotePrefix for cell in cells if cell.value == text and text != "#N/A")


def test_the_workbook_drops_what_a_workbook_cannot_hold(planned):
    p.Block.objects.filter(pk=planned.blocks[0].pk).update(name="a\x0bb")
    assert "ab" in [cell.value for cell in opened(planned)["Blocks"]["B"]]


# --- the worksheet --------------------------------------------------------------------------------
def test_the_worksheet_takes_the_steps_in_order_and_needs_no_plan(db):
    org = factories.organisation()
    pdf = set_pages(worksheet_pages(org))
    assert 2 <= len(pypdfium2.PdfDocument(pdf)) <= 4
    words = text_of(pdf)
    order = ["Emergency number", "1 Is the ground ready", "2 Which species fit", "3 When each kind", "4 The mix",
             "5 How many to order", "6 What it costs", "7 Who looks", "8 When the crew", "9 The plan"]  # fmt: skip
    places = [words.index(title) for title in order]
    assert places == sorted(places)


def test_papers_are_served_as_files(planned):
    browser = Client()
    browser.force_login(planned.manager.user, backend="allauth.account.auth_backends.AuthenticationBackend")
    for name, start, kind in (("plan_document", b"%PDF", "application/pdf"), ("plan_workbook", b"PK", "spreadsheetml"),
                              ("planning_worksheet", b"%PDF", "application/pdf")):  # fmt: skip
        kwargs = {"org": "hill"} | ({} if name == "planning_worksheet" else {"uid": planned.plan.uid})
        answer = browser.get(reverse(f"projects:{name}", kwargs=kwargs))
        assert answer.content.startswith(start)
        assert kind in answer["Content-Type"]
    assert (
        "hedges-plan-1-draft.xlsx"
        in browser.get(reverse("projects:plan_workbook", kwargs={"org": "hill", "uid": planned.plan.uid}))[
            "Content-Disposition"
        ]
    )


# --- the map --------------------------------------------------------------------------------------
@given(st.floats(-80, 80))
def test_a_degree_is_as_long_as_on_the_ellipsoid(latitude):
    """Against GeographicLib through pyproj."""
    geod = Geod(ellps="WGS84")
    east, north = metres_per_degree(latitude)
    across = geod.inv(10 - 5e-4, latitude, 10 + 5e-4, latitude)[2] * 1000
    along = geod.inv(10, latitude - 5e-4, 10, latitude + 5e-4)[2] * 1000
    assert east == pytest.approx(across, rel=1e-6)
    assert north == pytest.approx(along, rel=1e-6)


@given(st.floats(0.011, 1e7))
def test_a_scale_bar_is_the_longest_round_length_that_fits(longest):
    found = round_length(longest)
    assert longest / 2.5 <= found * (1 + 1e-9)
    assert found <= longest * (1 + 1e-9)
    assert f"{found:.0e}"[0] in "125"


def test_the_scale_bar_is_true_to_the_ground():
    """The square of the factories is 142 m wide: its drawn width over the bar's is the same ratio."""
    drawn = draw_map(factories.SQUARE, [(1, factories.SQUARE, (-6.999, 40.0005))])
    root = ET.fromstring(drawn.svg)
    paths = [node.get("d") for node in root.iter() if node.tag.endswith("path")]
    xs = [float(pair.split(",")[0]) for pair in paths[0].strip("MZ ").replace("L", " ").split()]
    bar = re.search(r"M([\d.]+),[\d.]+ V[\d.]+ H([\d.]+)", drawn.svg)
    width_m = Geod(ellps="WGS84").inv(-7.0, 40.0005, -6.99834, 40.0005)[2]
    per_m = (max(xs) - min(xs)) / width_m
    assert (float(bar[2]) - float(bar[1])) / per_m == pytest.approx(drawn.scale_m, rel=2e-3)


def test_a_map_over_the_date_line_is_in_one_piece():
    ring = [[179.99, -17], [-179.99, -17], [-179.99, -16.99], [179.99, -16.99], [179.99, -17]]
    drawn = draw_map({"type": "Polygon", "coordinates": [ring]}, [])
    assert drawn.east - drawn.west == pytest.approx(0.02)
    assert "179.99000° W" in drawn.svg


def test_a_site_without_any_shape_has_no_map():
    assert draw_map(None, []) is None


# --- the best week --------------------------------------------------------------------------------
@pytest.mark.parametrize(("opens", "closes", "best"), [
    ("2026-10-01", "2026-12-31", "2026-11-05"),  # the best week lies inside
    ("2026-11-20", "2027-02-10", "2026-11-20"),  # it lies before: the first week is the nearest to it
    ("2026-12-25", "2027-03-01", "2027-01-21"),  # over the new year, a second, lower top
    ("2026-06-01", "2026-07-10", None),          # no open day at all
    ("2026-11-05", "2026-11-09", None),          # shorter than a week
])  # fmt: skip
def test_the_best_week_of_a_written_window(opens, closes, best):
    """A made-up year: open from October to March, most root growth on 5 November, a lower top on 21 January."""
    days = np.arange(365)
    is_open = (days >= 273) | (days < 90)
    top = np.maximum(20 - np.abs(days - 311) * 0.5, 0) + np.maximum(5 - np.abs(days - 23), 0)
    year = PlantingYear((), is_open, top, np.where(is_open, 0, 1))
    window = p.PlantingWindow(opens_on=date.fromisoformat(opens), closes_on=date.fromisoformat(closes))
    found = best_week(window, year)
    assert (found.isoformat() if found else None) == best


def test_an_approved_version_keeps_the_words_it_was_approved_with(planned, monkeypatch):
    approve_plan(actor=planned.actor, plan=planned.plan)
    plan = p.Plan.objects.select_related("project", "season").get(pk=planned.plan.pk)
    before = pages_for(planned.actor, plan)
    monkeypatch.setattr(plan_words, "method", lambda: ["A later release says it otherwise."])
    assert pages_for(planned.actor, plan) == before
    again = plans.begin_plan(actor=planned.actor, project=planned.project, copy_of=plan)
    assert "A later release says it otherwise." in json.dumps(pages_for(planned.actor, again))

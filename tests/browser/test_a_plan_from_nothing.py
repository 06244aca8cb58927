"""A plan for three Portuguese sites, made through the browser from an organisation that holds nothing, to the PDF.

The sites, their outlines and their weather are those of the demo scenario: invented.
"""

import json
import os
from typing import Any

import pypdfium2
import pytest
from django.core.management import call_command

from monitoring.demo.ground import patch, polygon
from monitoring.demo.serra_offers import OFFERS
from monitoring.demo.serra_sites import SITES
from monitoring.demo.shapes import OfferPlan, SitePlan
from projects import models as p
from projects.figures import THIN, quantity
from tests.browser.planner import Planner

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

STOPS = (
    "native_grassland", "peat", "wetland", "protected_habitat", "services_checked", "plant_health_notice",
)  # fmt: skip


def months(site: SitePlan) -> str:
    """Twelve lines as they are pasted from a spreadsheet."""
    columns = zip(site.minimum_c, site.maximum_c, site.rain_mm, strict=True)
    return "\n".join("\t".join(str(value) for value in month) for month in columns)


def boundary(site: SitePlan, outline: tuple) -> str:
    return json.dumps(polygon(site.latitude, site.longitude, outline))


@pytest.fixture
def planner(desk_of, ana, hill) -> Planner:
    call_command("load_species", verbosity=0)
    return Planner(desk_of(ana.user), "hill")


def make_project(planner: Planner) -> p.Project:
    planner.go("project_new")
    text = planner.sent_back({"name": "Three valleys", "budget": "a lot"}, "Begin the project")
    assert "Write an amount" in text
    planner.send(
        {"budget": "90000", "target_stocking_per_ha": "900", "target_survival": "80"}, "Begin the project"
    )
    return p.Project.objects.get(name="Three valleys")


def make_season(planner: Planner) -> p.Season:
    planner.go("season_new")
    values = {
        "kind": "planting",
        "label": "winter 2027/28",
        "starts_on": "2027-11-01",
        "ends_on": "2028-03-31",
    }
    planner.send(values, "Add the season")
    return p.Season.objects.get(label="winter 2027/28")


def make_site(planner: Planner, plan: SitePlan) -> p.Site:
    planner.go("site_new")
    planner.send(
        {
            "name": plan.name, "country_code": "PT", "region": plan.region, "time_zone": plan.time_zone,
            "boundary": boundary(plan, plan.outline_m), "elevation_m": str(plan.elevation_m),
            "access_notes": plan.access_notes,
        },
        "Add the site",
    )  # fmt: skip
    return p.Site.objects.get(name=plan.name)


def make_block(planner: Planner, project: p.Project, site: p.Site, plan: SitePlan) -> p.Block:
    planner.go("block_new", uid=site.uid)
    planner.send(
        {
            "name": "Lower ground", "project": str(project.pk), "layout": "ground",
            "geometry": boundary(plan, patch(60, 60, 160, 110)), "pattern": "square",
            "row_spacing_m": "3", "in_row_spacing_m": "2.5", "target_stocking_per_ha": "900",
            "hazards": "Loose stones on the slope.",
        },
        "Add the block",
    )  # fmt: skip
    return p.Block.objects.get(site=site)


def assess(planner: Planner, site: p.Site, plan: SitePlan) -> None:
    """Fill in the guided form; its climate first with a month missing."""
    planner.go("assessment_step", uid=site.uid, step="land")
    planner.send(
        {
            "visited_on": "2026-10-05", "land_use_history": "Rye until 1990, then grazed.",
            "present_vegetation": "Broom and grass.", "competing_vegetation": "Bracken, 1 m tall.",
            "existing_species": "A few oaks along the walls.", "seed_source_m": "250",
        },
        "Save",
    )  # fmt: skip
    planner.go("assessment_step", uid=site.uid, step="shape")
    planner.send(
        {
            "aspect": "N", "slope_percent": "12", "light": "full_sun", "hazards": "Loose stones, one old well.",
            "emergency_contact": plan.emergency_contact,
        },
        "Save",
    )  # fmt: skip
    planner.go("soil_new", uid=site.uid)
    soil = {
        "label": "Pit 1",
        "taken_on": "2026-10-05",
        "texture": "medium",
        "depth_cm": "70",
        "drainage": "free",
    }
    assert "10.5" in planner.sent_back({**soil, "ph": "19"}, "Add the sample")
    planner.send({"ph": "5.8"}, "Add the sample")
    planner.go("site_climate", uid=site.uid)
    eleven = "\n".join(months(plan).splitlines()[:11])
    text = planner.sent_back(
        {"months": eleven, "climate_source": "Invented for the demo"}, "Save the normals"
    )
    assert "There are 11 months; twelve are needed" in text
    planner.send({"months": months(plan)}, "Save the normals")
    for kind, what in (("tenure", "Common land, in the group's care"), ("community", "Planting as drawn")):
        planner.go("consent_new", uid=site.uid)
        consent = {"kind": kind, "with_whom": "The commons assembly", "what": what, "given_on": "2026-01-15"}
        planner.send({**consent, "expires_on": "2036-01-15"}, "Add it")
    planner.go("assessment_step", uid=site.uid, step="stops")
    answers = {stop: "yes" if stop == "services_checked" else "no" for stop in STOPS}
    planner.send(answers, "Save")


def keep_windows(planner: Planner, block: p.Block) -> None:
    """Look at the block's year and write down what it offers bare-root and container stock."""
    text = planner.go("block_windows", uid=block.uid)
    assert "latest day with time to root" in text
    for stock_type in ("bare_root", "container"):
        box = planner.page.locator(f"input[name=stock_types][value={stock_type}]")
        if box.count():
            box.check()
    planner.press("Write the ticked windows down")
    assert block.planting_windows.exists()


def as_line(offer: OfferPlan) -> str:
    """A line of a price list, as a spreadsheet copies it."""
    name = offer.species.replace("-", " ").capitalize()
    price, stock_type = f"{offer.price_minor / 100:.2f}", offer.stock_type.replace("_", "-")
    return "\t".join((name, stock_type, price, "EUR", str(offer.on_offer), str(offer.least or 1)))


def read_prices_in(planner: Planner) -> None:
    """Two nurseries, their lists pasted from a spreadsheet."""
    for nursery, kind in (("Cold valley nursery", "bare_root"), ("Warm terrace nursery", "container")):
        planner.go("nursery_new")
        planner.send({"name": nursery, "country_code": "PT", "lead_time_weeks": "12"}, "Add the nursery")
        offers = {offer.species: offer for offer in OFFERS if offer.stock_type == kind}
        lines = ["species\tstock type\tprice\tcurrency\thow many\tfewest", *map(as_line, offers.values())]
        row = p.Nursery.objects.get(name=nursery)
        planner.go("price_list_read", uid=row.uid)
        planner.send({"lines": "\n".join(lines)}, "Read it in")
        assert row.offers.count() == len(lines) - 1


def value_it(planner: Planner, project: p.Project) -> None:
    """Weigh what the project is for, and say what a community may gain."""
    planner.go("project_purposes", uid=project.uid)
    planner.send({"soil": "8", "wildlife": "5", "honey": "2"}, "Weigh them so")
    planner.go("benefit_new", uid=project.uid)
    gain = {
        "kind": "honey", "from_year": "6", "until_year": "20", "lowest": "5", "highest": "20", "unit": "kg a year",
        "per": "ha", "source": "A guess of ours",
    }  # fmt: skip
    planner.send(gain, "Add it")
    planner.go("day_rules")
    planner.send({"which": "warm"}, "Start from the usual rules")


def begin_plan(planner: Planner, project: p.Project, season: p.Season) -> p.Plan:
    planner.go("plan_new", uid=project.uid)
    planner.send({"title": "First winter"}, "Begin the draft")
    plan = p.Plan.objects.get(project=project)
    planner.go("plan_edit", uid=plan.uid)
    assert "50" in planner.sent_back({"assurance": "12"}, "Save")
    planner.send({"assurance": "90", "season": str(season.pk), "crew_people": "8"}, "Save")
    return plan


def mix_it(planner: Planner, plan: p.Plan) -> None:
    """Ask for the impossible, read why it cannot be, ask again, and change one number by hand."""
    planner.go("plan_mix", uid=plan.uid)
    planner.unfold()
    planner.send({"least_species": "3", "budget": "100", "seconds": "120"}, "Find the best mix")
    planner.wait_for_work()
    text = planner.go("plan_mix", uid=plan.uid)
    assert "Give up one of these, or change its number:" in text, text
    planner.send({"budget": "20000", "most_of_species": "60"}, "Find the best mix")
    planner.wait_for_work()
    text = planner.go("plan_mix", uid=plan.uid)
    assert "Expected alive at the check age" in text
    assert {line.block_id for line in plan.mix_lines.all()} == set(
        plan.project.blocks.values_list("id", flat=True)
    )
    line = plan.mix_lines.order_by("-quantity").first()
    form = planner.page.locator(f"main form[action*='{line.block.uid}']")
    field = form.locator(f"input[name$='{line.pk}']")
    field.fill(str(line.quantity - 10))
    with planner.page.expect_navigation():
        form.get_by_role("button").click()
    before, _ = line.quantity, line.refresh_from_db()
    assert line.quantity == before - 10


def order_it(planner: Planner, plan: p.Plan) -> None:
    text = planner.go("plan_quantities", uid=plan.uid)
    assert "Is it enough?" in text
    planner.press("Draft the orders")
    assert {line.species_id for order in plan.project.orders.all() for line in order.lines.all()} == {
        line.species_id for line in plan.mix_lines.all()
    }
    planner.go("plan_costs", uid=plan.uid)
    planner.send({"day_cost": "60"}, "Take them in")
    planner.go("budget_line_new", uid=plan.project.uid)
    budget = {"what": "Guards for the oaks", "kind": "protection"}
    assert "Write an amount" in planner.sent_back({**budget, "planned": "plenty"}, "Add the line")
    planner.send({"planned": "1200"}, "Add the line")


def pages_of(planner: Planner, name: str, **kwargs: Any) -> tuple[str, list[Any]]:
    """Fetch a PDF with the browser's own session; return its text and its pages as pictures."""
    answer = planner.page.request.get(planner.address(name, **kwargs))
    assert answer.status == 200, answer.status
    document = pypdfium2.PdfDocument(answer.body())
    text = "\n".join(page.get_textpage().get_text_bounded() for page in document)
    return text, [page.render(scale=1).to_numpy() for page in document]


def check_document(planner: Planner, plan: p.Plan) -> None:
    text, pictures = pages_of(planner, "plan_document", uid=plan.uid)
    flat = " ".join(text.replace(THIN, " ").split())
    for site in SITES:
        assert site.name in flat
        assert site.emergency_contact in flat
    for line in plan.mix_lines.select_related("species"):
        assert line.species.scientific_name in flat
        assert quantity(line.quantity).replace(THIN, " ") in flat
    for words in ("Three valleys", "First winter", "ences and guards", "kg a year", "winter 2027/28"):
        assert words in flat, words
    assert len(pictures) > 3
    for picture in pictures:
        ink = float((picture.min(axis=2) < 160).mean())
        assert 0.002 < ink < 0.4, "a page is empty, or drowned in ink"
    if folder := os.environ.get("TALLYGROVE_KEEP_PICTURES"):
        from PIL import Image

        for number, picture in enumerate(pictures, 1):
            Image.fromarray(picture[:, :, ::-1]).save(f"{folder}/plan-{number}.png")


def test_a_plan_for_three_sites_is_made_from_nothing_and_ends_in_its_document(planner, hill):
    project = make_project(planner)
    season = make_season(planner)
    for plan in SITES:
        site = make_site(planner, plan)
        block = make_block(planner, project, site, plan)
        assess(planner, site, plan)
        keep_windows(planner, block)
    read_prices_in(planner)
    value_it(planner, project)
    plan = begin_plan(planner, project, season)
    assert "draft, not approved" in pages_of(planner, "plan_document", uid=plan.uid)[0].lower()
    mix_it(planner, plan)
    order_it(planner, plan)
    planner.go("plan_detail", uid=plan.uid)
    planner.desk.picture("plan", height=1300)
    planner.go("plan_approve", uid=plan.uid)
    planner.press("Approve and freeze this version")
    plan.refresh_from_db()
    assert plan.approved_at is not None
    check_document(planner, plan)
    assert [each for each in planner.desk.complaints if "422" not in each] == []  # forms sent back on purpose

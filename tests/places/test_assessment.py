"""A site assessed step by step: left, taken up again, refused, and what pages say of it."""

import json
from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from projects.errors import Refusal
from projects.models import (
    Consent,
    HistoryEntry,
    ReadinessOverride,
    RegenerationCircle,
    SiteAssessment,
    SoilSample,
)
from projects.selectors import assessment as selectors
from projects.selectors.readiness import readiness_of
from projects.selectors.site_facts import facts_of
from projects.services import assessment as services
from projects.services import consents, site_findings
from tests import factories

TODAY = date(2026, 3, 1)
CLEAR = {
    "native_grassland": "no", "peat": "no", "wetland": "no", "protected_habitat": "no", "services_checked": "yes",
    "plant_health_notice": "no",
}  # fmt: skip
SAMPLE = {"label": "S1", "taken_on": "2025-02-03", "texture": "coarse", "ph": "5,6", "depth_cm": "40"}
CIRCLE = {"label": "C1", "counted_on": "2025-02-03", "radius_m": "5", "count": "9"}
CONSENT = {
    "kind": "tenure",
    "with_whom": "Land office",
    "what": "Lease of the slope",
    "given_on": "2025-01-05",
}


def address(name, row, **kwargs):
    return reverse(f"projects:{name}", kwargs={"org": "hill", "uid": row.uid, **kwargs})


def text_of(answer):
    return " ".join(answer.content.decode().split())


@pytest.fixture
def browser(signed_in, ana):
    return signed_in(ana)


def step(site, key):
    return address("assessment_step", site, step=key)


# --- steps ----------------------------------------------------------------------------------
def test_a_step_is_stored_and_told_on_the_overview(browser, site):
    land = {"visited_on": "2025-02-03", "land_use_history": "Rye until 1970", "seed_source_m": "350,5"}
    assert browser.post(step(site, "land"), land).status_code == 302
    row = SiteAssessment.objects.get(site=site)
    assert (row.visited_on, row.land_use_history, row.seed_source_m) == (
        date(2025, 2, 3),
        "Rye until 1970",
        350.5,
    )
    page = text_of(browser.get(address("assessment", site)))
    assert "3 of 6 answers" in page
    assert "what grows there now" in page
    assert HistoryEntry.objects.get(verb="assessment.edited").change["land_use_history"] == [
        "",
        "Rye until 1970",
    ]


def test_saving_the_same_again_leaves_no_history(browser, site):
    for _ in range(2):
        browser.post(step(site, "land"), {"land_use_history": "Rye"})
    assert HistoryEntry.objects.filter(verb="assessment.edited").count() == 1


def test_the_emergency_number_is_the_sites(browser, site):
    shape = {"aspect": "N", "slope_percent": "35", "light": "full_sun", "emergency_contact": "post 4"}
    assert browser.post(step(site, "shape"), shape).status_code == 302
    site.refresh_from_db()
    assert site.emergency_contact == "post 4"
    assert SiteAssessment.objects.get().slope_percent == 35


@pytest.mark.parametrize(
    ("key", "field", "typed", "words"),
    [
        ("shape", "slope_percent", "steep", "Write a number, such as 2.5."),
        ("shape", "slope_percent", "400", "Write 300 or less."),
        ("shape", "aspect", "up", "Select a valid choice"),
        ("land", "seed_source_m", "-5", "Write 0 or more."),
        ("land", "visited_on", "last week", "Write the day as year-month-day"),
        ("land", "visited_on", "2999-01-01", "This day has not come yet."),
        ("stops", "peat", "maybe", "Select a valid choice"),
    ],
)
def test_a_fault_gets_its_fields_own_words_and_stays_typed_after_leaving(
    browser, site, key, field, typed, words
):
    answer = browser.post(step(site, key), {field: typed})
    assert answer.status_code == 422
    form = answer.context["form"]
    assert list(form.errors) == [field]
    assert words in form.errors[field][0]
    again = browser.get(step(site, key))
    assert again.status_code == 200
    assert again.context["form"][field].value() == typed
    assert words in again.context["form"].errors.get(field, [words])[0]
    assert "something typed is not stored yet" in text_of(browser.get(address("assessment", site)))


def test_what_was_kept_goes_once_it_is_stored_or_thrown_away(browser, site):
    browser.post(step(site, "shape"), {"slope_percent": "steep", "hazards": "An old well"})
    assert SiteAssessment.objects.get().unsaved["shape"]["hazards"] == "An old well"
    assert SiteAssessment.objects.get().hazards == ""
    browser.post(step(site, "shape"), {"slope_percent": "20", "hazards": "An old well"})
    assert (SiteAssessment.objects.get().unsaved, SiteAssessment.objects.get().hazards) == ({}, "An old well")
    browser.post(step(site, "shape"), {"slope_percent": "steep"})
    assert browser.post(address("assessment_drop", site), {"key": "shape"}).status_code == 302
    assert SiteAssessment.objects.get().unsaved == {}
    assert browser.get(step(site, "shape")).context["form"]["slope_percent"].value() == 20


def test_two_people_on_two_steps_do_not_meet_but_on_one_step_they_do(browser, actor, site):
    land = browser.get(step(site, "land")).context["form"]["version"].value()
    shape = browser.get(step(site, "shape")).context["form"]["version"].value()
    services.save_step(actor=actor, site=site, step=selectors.steps.LAND, land_use_history="Pasture")
    assert browser.post(step(site, "shape"), {"version": shape, "hazards": "Wires"}).status_code == 302
    answer = browser.post(step(site, "land"), {"version": land, "land_use_history": "Rye"})
    assert answer.status_code == 422
    assert "Pasture" in text_of(answer)
    assert SiteAssessment.objects.get().land_use_history == "Pasture"
    version = answer.context["form"]["version"].value()
    assert (
        browser.post(step(site, "land"), {"version": version, "land_use_history": "Rye"}).status_code == 302
    )
    assert SiteAssessment.objects.get().land_use_history == "Rye"


def test_an_assessment_is_finished_only_when_nothing_typed_waits(browser, site):
    browser.post(step(site, "shape"), {"slope_percent": "steep"})
    browser.post(address("assessment_finish", site))
    assert SiteAssessment.objects.get().finished_at is None
    browser.post(address("assessment_drop", site), {"key": "shape"})
    browser.post(address("assessment_finish", site))
    assert SiteAssessment.objects.get().finished_at is not None
    browser.post(address("assessment_finish", site), {"reopen": "yes"})
    assert SiteAssessment.objects.get().finished_at is None


def test_there_is_no_step_of_another_name(browser, site):
    assert browser.get(step(site, "moon")).status_code == 404


# --- soil -----------------------------------------------------------------------------------
def test_a_lead_adds_changes_and_takes_away_a_sample(signed_in, ben, site, block):
    browser = signed_in(ben)
    assert browser.post(address("soil_new", site), SAMPLE | {"block": block.pk}).status_code == 302
    sample = SoilSample.objects.get()
    assert (sample.ph, sample.block, sample.texture) == (5.6, block, "coarse")
    assert facts_of(block).facts["soil_ph"] == 5.6
    page = browser.get(address("soil_edit", sample))
    version = page.context["form"]["version"].value()
    assert (
        browser.post(address("soil_edit", sample), SAMPLE | {"ph": "6", "version": version}).status_code
        == 302
    )
    sample.refresh_from_db()
    assert (sample.ph, sample.block) == (6, None)
    assert "S1" in text_of(browser.get(address("soil_list", site)))
    assert browser.post(address("soil_remove", sample)).status_code == 302
    assert not SoilSample.objects.exists()
    assert HistoryEntry.objects.filter(verb="soil.taken_away", subject_label="S1").count() == 1


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("ph", "19", "Write 10.5 or less."),
        ("ph", "sour", "Write a number, such as 2.5."),
        ("organic_matter_percent", "101", "Write 100 or less."),
        ("depth_cm", "-1", "Write 0 or more."),
        ("latitude", "91", "Write 90 or less."),
        ("latitude", "40.1", "A place needs both"),
        ("taken_on", "2999-01-01", "This day has not come yet."),
        ("label", "", "This field is required."),
    ],
)
def test_a_sample_that_cannot_be_says_why_and_is_kept(browser, site, field, typed, words):
    answer = browser.post(address("soil_new", site), SAMPLE | {field: typed})
    at = "longitude" if words.startswith("A place") else field
    assert answer.status_code == 422
    assert words in answer.context["form"].errors[at][0]
    assert not SoilSample.objects.exists()
    again = browser.get(address("soil_new", site)).context["form"]
    assert (again[field].value(), again["texture"].value()) == (typed, "coarse")


def test_a_label_is_used_once_on_a_site(browser, site):
    browser.post(address("soil_new", site), SAMPLE)
    answer = browser.post(address("soil_new", site), SAMPLE)
    assert "has this label" in answer.context["form"].errors["label"][0]


def test_a_block_of_another_site_is_refused_by_form_and_service(browser, actor, site, hill, project):
    elsewhere = factories.block(hill, project, factories.site(hill))
    assert browser.post(address("soil_new", site), SAMPLE | {"block": elsewhere.pk}).status_code == 422
    with pytest.raises(Refusal, match="another site"):
        site_findings.add_sample(actor=actor, site=site, label="S", taken_on=TODAY, block=elsewhere)


@pytest.mark.parametrize("ph", [2.4, 10.6, 19])
def test_the_service_refuses_a_ph_that_cannot_be(actor, site, ph):
    with pytest.raises(Refusal, match=r"from 2\.5 to 10\.5"):
        site_findings.add_sample(actor=actor, site=site, label="S", taken_on=TODAY - timedelta(400), ph=ph)


# --- agreements and stops ---------------------------------------------------------------------
def test_an_agreement_that_ends_before_it_begins_says_so_on_its_own_field(browser, site):
    answer = browser.post(address("consent_new", site), CONSENT | {"expires_on": "2024-12-31"})
    assert answer.status_code == 422
    assert "before the one on which it was given" in answer.context["form"].errors["expires_on"][0]
    again = browser.get(address("consent_new", site)).context["form"]
    assert again["with_whom"].value() == "Land office"
    assert not Consent.objects.exists()


def test_agreements_clear_tenure_and_consent_until_they_end_or_are_withdrawn(browser, actor, site):
    assert {row.key: row.state for row in readiness_of(site, TODAY).stops}["tenure"] == "unknown"
    browser.post(address("consent_new", site), CONSENT | {"expires_on": "2026-04-01"})
    ready = readiness_of(site, TODAY)
    assert {row.key: row.state for row in ready.stops}["tenure"] == "clear"
    assert [row.state for row in ready.ending] == ["ends_soon"]
    assert {row.key: row.state for row in readiness_of(site, date(2026, 4, 2)).stops}["tenure"] == "stands"
    consents.edit_consent(actor=actor, consent=Consent.objects.get(), withdrawn_on=TODAY)
    assert {row.key: row.state for row in readiness_of(site, TODAY).stops}["tenure"] == "stands"


def test_an_agreement_is_changed_on_its_page(browser, site):
    browser.post(address("consent_new", site), CONSENT)
    row = Consent.objects.get()
    changed = CONSENT | {"caretaker": "The village", "benefits": "Chestnuts\nHoney"}
    assert browser.post(address("consent_edit", row), changed).status_code == 302
    page = text_of(browser.get(address("consent_list", site)))
    assert "The village" in page
    assert "Chestnuts<br>Honey" in page


def make_ready(actor, site, **answers):
    services.save_step(actor=actor, site=site, step=selectors.steps.STOPS, **(CLEAR | answers))
    for kind in ("tenure", "community"):
        consents.add_consent(
            actor=actor, site=site, kind=kind, with_whom="Village", what="All", given_on=date(2024, 1, 1)
        )


def test_a_named_manager_answers_for_a_stop_and_withdraws_it(browser, actor, ana, site, block):
    make_ready(actor, site, wetland="yes")
    assert "Stops a plan: wetland." in text_of(browser.get(address("site_detail", site)))
    assert "stops a plan: wetland" in text_of(browser.get(address("block_detail", block)))
    answer = browser.post(address("override_new", site), {"stop": "wetland", "reason": "Only its dry rim"})
    assert answer.status_code == 302
    row = ReadinessOverride.objects.get()
    assert (row.approved_by, row.stop) == (ana.person, "wetland")
    assert readiness_of(site, TODAY).is_ready
    page = text_of(browser.get(address("assessment", site)))
    assert "Only its dry rim" in page
    assert str(ana.person) in page
    assert browser.post(address("override_withdraw", row)).status_code == 302
    assert not readiness_of(site, TODAY).is_ready
    verbs = (
        HistoryEntry.objects.filter(verb__startswith="override.")
        .order_by("id")
        .values_list("verb", flat=True)
    )
    assert list(verbs) == ["override.approved", "override.withdrawn"]


def test_an_override_needs_a_reason_a_person_and_a_stop_that_stands(browser, actor, hill, site):
    make_ready(actor, site, wetland="yes")
    answer = browser.post(address("override_new", site), {"stop": "wetland", "reason": " "})
    assert "reason" in answer.context["form"].errors
    assert "stop" in browser.post(
        address("override_new", site), {"stop": "peat", "reason": "why"}
    ).context["form"].errors  # fmt: skip
    from projects.access import service_actor

    with pytest.raises(Refusal, match="Only a person"):
        consents.override_stop(actor=service_actor(hill), site=site, stop="wetland", reason="x")
    consents.override_stop(actor=actor, site=site, stop="wetland", reason="x")
    with pytest.raises(Refusal, match="answers for this already"):
        consents.override_stop(actor=actor, site=site, stop="wetland", reason="x")


def test_a_site_without_a_stop_is_ready_and_says_so(browser, actor, site):
    make_ready(actor, site)
    assert "Yes: no reason not to plant is known here." in text_of(browser.get(address("site_detail", site)))


def test_a_funder_reads_nothing_of_an_assessment(signed_in, fred, actor, site, block):
    make_ready(actor, site, wetland="yes")
    page = text_of(signed_in(fred).get(address("site_detail", site)))
    assert "Ready to plan" not in page
    assert signed_in(fred).get(address("assessment", site)).status_code == 403


# --- young natural trees ------------------------------------------------------------------------
def count(actor, site, *counts, **values):
    for number, found in enumerate(counts):
        site_findings.add_circle(
            actor=actor, site=site, radius_m=5, count=found,
            **{"label": f"C{number}", "counted_on": date(2025, 2, 3), **values},
        )  # fmt: skip


def want(browser, site, number, **answers):
    return browser.post(address("circle_list", site), {"wanted_regenerants_per_ha": number, **answers})


def test_ten_circles_against_the_wanted_number(browser, actor, site):
    count(actor, site, 9, 10, 8, 11, 9, 10, 9, 10, 8, 10)
    page = text_of(browser.get(address("circle_list", site)))
    assert "10 circles with 94 young natural trees." in page
    assert "nothing is advised" in page
    assert want(browser, site, "3 100").status_code == 302
    page = text_of(browser.get(address("assessment", site)))
    assert "Plant: fewer than half" in page
    assert "1 903" in page
    assert "90 % interval" in page


def test_a_costly_shortfall_and_what_holds_trees_back_turn_the_advice(browser, actor, site):
    count(actor, site, 5, 35, 20, 20)

    def course():
        (row,) = selectors.regeneration(
            site, SiteAssessment.objects.get(), list(RegenerationCircle.objects.all())
        )
        return row.advice.course

    want(browser, site, "2400")
    assert course() == "leave"
    want(browser, site, "2400", held_back="yes")
    assert course() == "assist"
    want(browser, site, "2400", held_back="yes", shortfall_is_costly="yes")
    assert course() == "plant"


def test_one_circle_gives_a_mean_and_says_why_there_is_no_interval(browser, actor, site):
    count(actor, site, 9)
    page = text_of(browser.get(address("circle_list", site)))
    assert "One circle says nothing about how much circles differ" in page
    assert "1 146" in page


def test_of_a_circle_counted_again_only_the_newest_enters_and_blocks_stand_apart(actor, site, block):
    count(actor, site, 3, 5)
    count(actor, site, 8, counted_on=date(2025, 6, 1))
    count(actor, site, 2, label="B1", block=block)
    count(actor, site, 6, label="B2", block=block)
    rows = selectors.regeneration(site, selectors.assessment_of(site), list(RegenerationCircle.objects.all()))
    assert [(row.name, row.n_circles, row.n_trees) for row in rows] == [
        ("The whole site", 4, 21), ("North slope", 2, 8),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("radius_m", "0", "Write 0.5 or more."),
        ("count", "some", "Write a whole number in digits"),
        ("count", "-2", "Write 0 or more."),
        ("counted_on", "2999-01-01", "This day has not come yet."),
    ],
)
def test_a_circle_that_cannot_be_says_why_and_is_kept(browser, site, field, typed, words):
    answer = browser.post(address("circle_new", site), CIRCLE | {field: typed})
    assert answer.status_code == 422
    assert words in answer.context["form"].errors[field][0]
    assert browser.get(address("circle_new", site)).context["form"][field].value() == typed


def test_a_circle_is_changed_and_taken_away(browser, site):
    assert browser.post(address("circle_new", site), CIRCLE).status_code == 302
    row = RegenerationCircle.objects.get()
    assert browser.get(address("circle_new", site)).context["form"]["radius_m"].value() == 5
    assert browser.post(address("circle_edit", row), CIRCLE | {"count": "0"}).status_code == 302
    row.refresh_from_db()
    assert row.count == 0
    browser.post(address("circle_remove", row))
    assert not RegenerationCircle.objects.exists()


def test_a_wanted_number_in_letters_stays_in_its_box(browser, site):
    assert want(browser, site, "plenty").status_code == 422
    form = browser.get(address("circle_list", site)).context["form"]
    assert form["wanted_regenerants_per_ha"].value() == "plenty"
    assert "whole number" in form.errors["wanted_regenerants_per_ha"][0]


# --- cost ---------------------------------------------------------------------------------------
def test_pages_cost_the_same_for_two_findings_and_for_twenty(browser, actor, site, block):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    pages = ["assessment", "soil_list", "circle_list", "consent_list", "site_detail"]

    def grow(first, number):
        for each in range(first, first + number):
            site_findings.add_sample(
                actor=actor, site=site, label=f"S{each}", taken_on=timezone.localdate(), block=block, ph=6
            )
            count(actor, site, each, label=f"C{each}", block=block)
            consents.add_consent(
                actor=actor, site=site, kind="permit", with_whom=f"O{each}", what="x", given_on=TODAY
            )

    def costs():
        found = {}
        for name in pages:
            with CaptureQueriesContext(connection) as queries:
                assert browser.get(address(name, site)).status_code == 200
            found[name] = len(queries)
        return found

    services.save_step(actor=actor, site=site, step=selectors.steps.LAND, land_use_history="Rye")
    consents.override_stop(actor=actor, site=site, stop="peat", reason="x")
    grow(0, 2)
    browser.get(address("assessment", site))
    few = costs()
    grow(2, 18)
    assert costs() == few
    assert max(few.values()) <= 30


def test_the_interval_leads_to_the_page_that_explains_it(browser, actor, site):
    count(actor, site, 4, 9)
    link = reverse("monitoring:method", kwargs={"org": "hill", "name": "young-natural-trees"})
    assert link in text_of(browser.get(address("circle_list", site)))
    assert "Student's critical value for an interval of 90" in text_of(browser.get(link)).replace(
        "&#x27;", "'"
    )


def test_a_lead_with_a_grant_sees_no_sample_of_another_projects_block(
    signed_in, actor, hill, project, site, block
):
    mine = factories.project(hill, name="Mine")
    factories.block(hill, mine, site)
    lead = factories.member(hill, "field_lead", projects=[mine])
    hidden = site_findings.add_sample(
        actor=actor, site=site, label="HIDDEN", taken_on=date(2025, 2, 3), block=block
    )
    site_findings.add_sample(actor=actor, site=site, label="SHARED", taken_on=date(2025, 2, 3))
    page = text_of(signed_in(lead).get(address("soil_list", site)))
    assert ("HIDDEN" in page, "SHARED" in page) == (False, True)
    assert signed_in(lead).get(address("soil_edit", hidden)).status_code == 404


def test_names_written_into_an_agreement_can_be_taken_out_again(actor, signed_in, ana, site):
    """History is for ever; whom an agreement is with must not be."""
    made = consents.add_consent(
        actor=actor, site=site, kind="landholder", with_whom="Quintela of the mill", what="Quintela mows",
        caretaker="Quintela", given_on=date(2026, 3, 1),
    )  # fmt: skip
    cleared = {"with_whom": "landholder 7", "what": "mows", "caretaker": "the landholder"}
    consents.edit_consent(actor=actor, consent=made, **cleared)
    entries = HistoryEntry.objects.filter(subject_uid=made.uid)
    assert [entry.verb for entry in entries.order_by("id")] == ["consent.added", "consent.edited"]
    kept = json.dumps([[entry.subject_label, entry.change, entry.reason] for entry in entries])
    assert "Quintela" not in kept
    assert set(entries.get(verb="consent.edited").change) == set(cleared)
    page = signed_in(ana).get(reverse("projects:history", kwargs={"org": "hill", "uid": made.uid}))
    assert page.status_code == 200
    assert "text that history does not keep" in page.content.decode()

"""A name typed into an agreement can be taken out again through its page, and no table keeps it."""

from datetime import date

import pytest
from django.apps import apps
from django.urls import reverse

from projects.models import Consent, Person, ReadinessOverride
from projects.services import erasure

NAME = "Quintela"
DAY = date(2026, 3, 1)
TYPED = {
    "kind": "landholder", "with_whom": f"{NAME} of the mill", "reference": "7/2026", "what": f"{NAME} mows",
    "caretaker": NAME, "benefits": f"walnuts for {NAME}", "given_on": "2026-03-01", "expires_on": "2026-04-15",
}  # fmt: skip
CLEARED = {"with_whom": "landholder 7", "what": "mows", "caretaker": "", "benefits": ""}


def tables_with(text):
    """Names of the tables in which some row's some column holds a text."""
    return {
        model._meta.label
        for model in apps.get_models()
        for row in model._default_manager.values()
        if any(text in str(value) for value in row.values())
    }


@pytest.fixture
def browser(signed_in, ana):
    return signed_in(ana)


def address(name, row):
    return reverse(f"projects:{name}", kwargs={"org": "hill", "uid": row.uid})


def test_after_a_manager_takes_a_name_out_of_an_agreement_nothing_holds_it(browser, site):
    wrong = browser.post(address("consent_new", site), TYPED | {"expires_on": "2020-01-01"})
    assert wrong.status_code == 422
    assert tables_with(NAME) == {"projects.SiteAssessment"}  # the draft
    assert browser.post(address("consent_new", site), TYPED).status_code == 302
    assert tables_with(NAME) == {"projects.Consent"}
    row = Consent.objects.get()
    refused = browser.post(address("consent_edit", row), TYPED | {"given_on": "soon"})
    assert refused.status_code == 422
    assert browser.post(address("consent_edit", row), TYPED | CLEARED).status_code == 302
    assert tables_with(NAME) == set()
    assert NAME not in browser.get(address("history", row)).content.decode()


def test_a_person_who_is_erased_is_named_in_no_agreement(browser, site, actor, hill):
    browser.post(address("consent_new", site), TYPED)
    quiet = Consent.objects.create(
        organisation=hill, site=site, kind="permit", with_whom="Office", what="x", given_on=DAY
    )
    asked = Person.objects.create(organisation=hill, name=NAME.lower())
    erasure.erase_person(actor=actor, person=asked, reason="Asked by letter, 2 March")
    assert tables_with(NAME) == set()
    row = Consent.objects.exclude(pk=quiet.pk).get()
    assert row.with_whom == "a person whose name was removed of the mill"
    quiet.refresh_from_db()
    assert (quiet.with_whom, quiet.what) == ("Office", "x")


def test_words_of_an_override_are_kept_on_purpose(browser, site, ana):
    """Whoever answers for a hard stop says so by name; the page tells them beforehand that it stays readable."""
    page = browser.get(address("override_new", site)).content.decode()
    assert "stay readable" in page
    assert not ReadinessOverride.objects.exists()


def test_the_assessment_says_how_far_seed_trees_are_and_which_permits_end(browser, site):
    page = browser.get(address("assessment", site)).content.decode()
    assert "nearest seed trees stand is not written down" in page
    land = reverse("projects:assessment_step", kwargs={"org": "hill", "uid": site.uid, "step": "land"})
    assert browser.post(land, {"seed_source_m": "350", "seed_source_note": "oaks above"}).status_code == 302
    permit = {"kind": "permit", "with_whom": "forest office", "what": "to fell", "given_on": "2020-01-01",
              "expires_on": "2021-01-01"}  # fmt: skip
    assert browser.post(address("consent_new", site), permit).status_code == 302
    page = " ".join(browser.get(address("assessment", site)).content.decode().split())
    assert "Nearest seed trees: 350\u00a0m away. oaks above" in page.replace("&nbsp;", "\u00a0") or (
        "Nearest seed trees: 350 m away. oaks above" in page
    )
    assert "forest office" in page and "1 January 2021" in page

"""The phone form against the service itself: from the code on the card to the figures of the round."""

import json
from contextlib import suppress

import pytest

from monitoring.models import Visit
from monitoring.services import passes
from projects.models import Submission
from tests import factories
from tests.phone.conftest import Phone

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def card(actor, survey_round):
    """A field pass with a code, as printed on a crew's card."""
    return passes.issue(actor=actor, rounds=[survey_round], person_name="A volunteer")


@pytest.fixture
def crew(playwright_api, live_server, tmp_path):
    made = Phone(playwright_api, tmp_path / "profile", live_server.url)
    yield made
    with suppress(Exception):
        made.context.close()


def counted() -> dict[str, list[int]]:
    """Return the living trees of each counting visit by plot."""
    rows = Visit.objects.filter(is_counting=True).prefetch_related("lines").order_by("plot__name")
    return {visit.plot.name: [line.alive for line in visit.lines.all()] for visit in rows}


def test_two_plots_counted_offline_arrive_once_and_count_for_the_round(crew, card):
    crew.enrol(card.code)
    crew.context.set_offline(True)
    crew.count("N1", 18)
    crew.press("Next plot")
    crew.count("N2", 11)
    crew.context.close()
    crew.open(offline=True)
    crew.go()
    crew.status("2 to send")
    assert Submission.objects.count() == 0
    crew.context.set_offline(False)
    crew.status("nothing to send")
    assert Submission.objects.count() == 2
    assert counted() == {"N1": [18], "N2": [11]}


def test_a_correction_replaces_what_counts_and_keeps_both_texts(crew, card):
    crew.enrol(card.code)
    crew.count("N1", 18)
    crew.page.wait_for_selector(r"text=/^Sent \d/")
    crew.press("Look at this plot or correct it")
    crew.press("Correct this answer")
    crew.page.fill("#field-line-0-alive", "17")
    crew.press("Check your answers")
    crew.see("Check your answers")
    crew.press("Save on this phone")
    crew.page.wait_for_selector(r"text=/^Sent \d/")
    assert counted() == {"N1": [17]}
    assert Submission.objects.count() == 2


def test_too_many_trees_are_stored_and_the_crew_is_told_who_looks(crew, card):
    crew.enrol(card.code)
    crew.count("N1", 25)
    crew.page.wait_for_selector(r"text=/Your field lead will look at:.*more than the baseline/")
    assert counted() == {"N1": [25]}


def test_unsafe_is_a_full_answer_of_one_tap(crew, card):
    crew.enrol(card.code)
    crew.press("N3")
    crew.press("Unsafe, not visited")
    crew.page.wait_for_selector(r"text=/^Sent \d/")
    [visit] = Visit.objects.all()
    assert (visit.plot.name, visit.status, visit.reason) == ("N3", "missing", "unsafe")


def test_a_revoked_pass_keeps_the_count_on_the_phone_until_a_new_code(crew, card, actor):
    crew.enrol(card.code)
    crew.context.set_offline(True)
    crew.count("N1", 18)
    again = passes.renew_code(actor=actor, field_pass=card.field_pass)
    crew.context.clear_cookies()
    crew.context.set_offline(False)
    crew.page.wait_for_selector("text=Not signed in")
    crew.status("1 to send")
    assert Submission.objects.count() == 0
    crew.enrol(again.code)
    crew.status("nothing to send")
    assert counted() == {"N1": [18]}


def test_every_field_of_the_sheet_reaches_its_column(crew, card, block, survey_round, oak, baselines):
    birch = factories.species("betula-pubescens")
    crew.enrol(card.code)
    crew.start_count("N1")
    page = crew.page
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    typed = {
        "alive": "12", "dead_stem": "3", "empty_spot": "1", "not_found": "1", "not_assessed": "1", "resprout": "2",
        "origin_uncertain": "1", "sign-bitten": "2", "heights_cm": "45 52",
    }  # fmt: skip
    for field, number in typed.items():
        page.fill(f"#field-line-0-{field}", number)
    page.click('main button:has-text("Add a species")')
    page.select_option("#field-regeneration-0-species", birch.slug)
    page.fill("#field-regeneration-0-lower", "20")
    page.check("#field-regeneration-0-lower_capped")
    page.click('main button:has-text("Add a removal")')
    page.fill("#field-removal-0-alive_removed", "2")
    page.fill("#note", "Fence down.")
    crew.press("Check your answers")
    crew.see("Check your answers")
    crew.press("Save on this phone")
    crew.page.wait_for_selector(r"text=/^Sent \d/")
    [visit] = Visit.objects.all()
    [line] = visit.lines.all()
    assert (line.alive, line.dead_stem, line.empty_spot, line.not_found) == (12, 3, 1, 1)
    assert (line.not_assessed, line.resprout, line.origin_uncertain) == (1, 2, 1)
    body = json.loads(Submission.objects.get().body)
    assert body["lines"][0]["signs"] == {"bitten": 2}
    assert body["regeneration"][0]["capped"] is True
    assert body["removals"][0]["alive_removed"] == 2
    assert "Fence down." not in json.dumps(body)

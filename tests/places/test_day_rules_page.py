"""Rules of a planting day through their pages: started, copied, changed, moved, judged, and on the crew's card."""

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from projects.access import member_actor
from projects.errors import Refusal
from projects.models import DayRule, HistoryEntry
from projects.services import day_rules as services
from tests import factories


def address(name, row=None):
    kwargs = {"org": "hill"} | ({"uid": row.uid} if row else {})
    return reverse(f"projects:{name}", kwargs=kwargs)


def text_of(response):
    return " ".join(response.content.decode().split())


@pytest.fixture
def started(actor):
    return services.start_from(actor=actor, project=None, which="temperate")


def started_rule(measure, project=None):
    return DayRule.objects.filter(measure=measure, project=project).first()


def test_an_empty_list_offers_the_usual_rules_and_takes_them(signed_in, ana, hill):
    browser = signed_in(ana)
    assert "No rule is written down yet" in text_of(browser.get(address("day_rules")))
    answer = browser.post(address("day_rules_start"), {"which": "temperate"}, follow=True)
    page = text_of(answer)
    assert "the soil at rooting depth is colder than 4.4" in page
    assert "western conifers" in page
    assert DayRule.objects.filter(organisation=hill, project=None).count() == 11
    again = text_of(browser.post(address("day_rules_start"), {"which": "warm"}, follow=True))
    assert "There are rules here already" in again
    assert DayRule.objects.count() == 11


def test_no_set_is_not_taken_for_one(signed_in, ana):
    page = text_of(signed_in(ana).post(address("day_rules_start"), {"which": "lunar"}, follow=True))
    assert "Choose which rules to start from" in page
    assert not DayRule.objects.exists()


def test_a_project_reads_the_organisations_rules_until_it_has_its_own(
    signed_in, ben, actor, hill, project, started
):
    browser = signed_in(ben)
    assert "These are the organisation" in text_of(browser.get(address("project_day_rules", project)))
    browser.post(address("project_day_rules_start", project), {"which": "organisation"})
    own = started_rule("thunder", project)
    services.edit_rule(
        actor=actor, rule=own, measure="thunder", side="yes", limit=None, effect="stop", words="go to the vans",
        source="our own rule",
    )  # fmt: skip
    assert "go to the vans" in text_of(browser.get(address("project_day_rules", project)))
    assert "go to the vans" not in text_of(browser.get(address("day_rules")))
    other = factories.project(hill, name="Elsewhere")
    assert "go to the vans" not in text_of(browser.get(address("project_day_rules", other)))
    browser.post(address("project_day_rules_drop", project))
    assert "go to the vans" not in text_of(browser.get(address("project_day_rules", project)))
    assert DayRule.objects.filter(project=None).count() == 11
    acts = HistoryEntry.objects.values_list("verb", flat=True)
    assert {"organisation.day_rules_started", "project.day_rules_dropped"} <= set(acts)


def test_a_lead_changes_a_projects_rules_but_not_the_organisations(signed_in, ben, started, project):
    browser = signed_in(ben)
    assert browser.get(address("day_rule_edit", started[0])).status_code == 403
    assert browser.post(address("day_rule_remove", started[0])).status_code == 403
    assert browser.post(address("day_rule_move", started[1]), {"up": "1"}).status_code == 403
    with pytest.raises(PermissionDenied):
        services.remove_rule(actor=member_actor(ben), rule=started[0])
    assert DayRule.objects.filter(project=None).count() == 11


def test_rules_move_and_are_taken_away(signed_in, ana, started):
    browser = signed_in(ana)

    def order():
        return list(DayRule.objects.values_list("pk", flat=True))

    first = order()
    browser.post(address("day_rule_move", started[2]), {"up": "1"})
    assert order() == [first[0], first[2], first[1], *first[3:]]
    browser.post(address("day_rule_move", started[2]), {"down": "1"})
    assert order() == first
    browser.post(address("day_rule_move", started[0]), {"up": "1"})
    browser.post(address("day_rule_move", started[-1]), {"down": "1"})
    assert order() == first
    browser.post(address("day_rule_remove", started[1]))
    assert order() == [first[0], *first[2:]]
    browser.post(address("day_rule_move", started[2]), {"up": "1"})
    assert order() == [first[2], first[0], *first[3:]]


FORM = {"measure": "air_c", "side": "above", "limit": "31,5", "effect": "stop", "words": "", "source": "ours"}


def test_a_rule_is_added_at_the_end_and_changed(signed_in, ana, started):
    browser = signed_in(ana)
    assert browser.post(address("day_rule_new"), FORM).status_code == 302
    added = DayRule.objects.last()
    assert (added.limit, added.side, added.effect) == (31.5, "above", "stop")
    assert "31.5" in text_of(browser.get(address("day_rule_edit", added)))
    assert browser.post(address("day_rule_edit", added), FORM | {"limit": "33"}).status_code == 302
    added.refresh_from_db()
    assert added.limit == 33


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"limit": "warm"}, "Write a number"),
        ({"limit": ""}, "Write the limit: this is measured in numbers"),
        ({"limit": "310"}, "No such reading is met with outdoors"),
        ({"side": "yes"}, "Choose below or above"),
        ({"measure": "other", "side": "yes", "limit": ""}, "Say in words what stops a crew"),
        ({"source": ""}, "This field is required"),
        ({"measure": ""}, "This field is required"),
    ],
)
def test_a_rule_that_cannot_speak_is_refused_with_its_own_words(signed_in, ana, db, change, words):
    page = signed_in(ana).post(address("day_rule_new"), FORM | {"words": "kept text"} | change | (
        {"words": ""} if change.get("measure") == "other" else {}
    ))  # fmt: skip
    assert page.status_code == 422
    assert words in text_of(page)
    assert change.get("measure") == "other" or "kept text" in text_of(page)
    assert not DayRule.objects.exists()


def test_a_list_nobody_would_read_is_refused(actor, monkeypatch):
    monkeypatch.setattr(services, "MOST", 2)
    for _ in range(2):
        services.add_rule(actor=actor, project=None, **FORM | {"limit": 31.5})
    with pytest.raises(Refusal):
        services.add_rule(actor=actor, project=None, **FORM | {"limit": 31.5})


MORNING = {
    "air_c": "7", "humidity_percent": "60", "wind_m_per_s": "2,2", "soil_c": "7", "frozen_soil_cm": "0",
    "water_at_surface": "no", "thunder": "no", "dry_soil": "no",
}  # fmt: skip


def quiet_morning():
    return MORNING | {str(rule.uid): "no" for rule in DayRule.objects.filter(measure="other")}


def test_a_morning_is_judged_and_an_empty_box_is_never_fine(signed_in, ana, started):
    browser = signed_in(ana)
    page = browser.get(address("day_rules_today"))
    assert page.status_code == 200 and page.context["judged"] is None
    page = browser.get(address("day_rules_today"), quiet_morning())
    assert page.context["judged"].verdict == "go"
    assert "None of the rules speaks against planting" in text_of(page)
    page = browser.get(address("day_rules_today"), quiet_morning() | {"soil_c": ""})
    assert page.context["judged"].verdict == "think"
    assert "Not looked at" in text_of(page)
    page = browser.get(address("day_rules_today"), quiet_morning() | {"soil_c": "3"})
    assert page.context["judged"].verdict == "stop"
    assert "read: 3" in text_of(page)
    assert "safe" not in text_of(page).lower()


def test_a_reading_in_words_gets_its_message_and_counts_as_not_looked_at(signed_in, ana, started):
    page = signed_in(ana).get(address("day_rules_today"), quiet_morning() | {"soil_c": "cold"})
    assert page.status_code == 422
    assert "Write a number" in text_of(page) and 'value="cold"' in text_of(page)
    assert page.context["judged"].verdict == "think"


def test_us_units_are_shown_and_read(signed_in, ana, hill, started):
    hill.units = "us"
    hill.save()
    browser = signed_in(ana)
    page = text_of(browser.get(address("day_rules")))
    assert "colder than 40\u00a0°F" in page.replace("&nbsp;", "\u00a0") or "colder than 40 °F" in page
    morning = quiet_morning() | {"air_c": "45", "soil_c": "41", "wind_m_per_s": "9"}
    assert browser.get(address("day_rules_today"), morning).context["judged"].verdict == "go"
    cold = browser.get(address("day_rules_today"), morning | {"soil_c": "39"})
    assert cold.context["judged"].verdict == "stop"
    soil = started_rule("soil_c")
    form = {"measure": "soil_c", "side": "below", "limit": "42", "effect": "stop", "source": "ours"}
    assert 'value="40"' in text_of(browser.get(address("day_rule_edit", soil)))
    browser.post(address("day_rule_edit", soil), form)
    soil.refresh_from_db()
    assert soil.limit == pytest.approx(5.56)


def test_the_crews_card_has_each_sites_number_the_rules_and_room_for_the_meeting_place(
    signed_in, vera, hill, project, site, block, started
):
    site.emergency_contact = "555 0199"
    site.save()
    block.hazards = "old well by the track"
    block.save()
    bare = factories.site(hill, name="Lower site")
    factories.block(hill, project, bare)
    factories.site(hill, name="Unrelated site", emergency_contact="555 0000")
    page = text_of(signed_in(vera).get(address("crew_card", project)))
    for words in ("555 0199", "old well by the track", "Lower site", "no number is written down",
                  "Meeting place and time", "thunder is heard", "The crew leader decides"):  # fmt: skip
        assert words in page
    assert "555 0000" not in page


def test_pages_cost_the_same_for_two_rules_and_for_twenty(signed_in, ana, actor, project, block):
    browser = signed_in(ana)
    pages = [address("day_rules"), address("project_day_rules_today", project), address("crew_card", project)]

    def cost(page):
        with CaptureQueriesContext(connection) as queries:
            assert browser.get(page).status_code == 200
        return len(queries)

    for _ in range(2):
        services.add_rule(actor=actor, project=None, **FORM | {"limit": 31.5})
    few = [cost(page) for page in pages]
    for _ in range(18):
        services.add_rule(actor=actor, project=None, **FORM | {"limit": 31.5})
    assert [cost(page) for page in pages] == few

"""Refused records are kept and shown: the reasons in words, when, from which phone, and what was sent."""

import json

import pytest
from django.urls import reverse

from projects.access import field_pass_actor
from projects.identifiers import uuid7
from projects.models import RefusedItem
from projects.services import log
from tests import factories
from tests.field_log.visits import item, line, visit_body

LIST = reverse("monitoring:refused_list", kwargs={"org": "hill"})


def page_of(row):
    return reverse("monitoring:refused_detail", kwargs={"org": "hill", "uid": row.uid})


@pytest.fixture
def phone(survey_round, project):
    return field_pass_actor(factories.field_pass(survey_round), frozenset({project.pk}))


@pytest.fixture
def negative(phone, plots, baselines, survey_round):
    log.append_items(phone, [item(visit_body(plots[0], survey_round, [line(baselines[0], -3)]))])
    return RefusedItem.objects.get()


def test_the_list_says_which_plot_and_day_from_whose_phone_and_why(signed_in, ben, negative):
    page = " ".join(signed_in(ben).get(LIST).content.decode().split())
    assert "Plot N1, North slope, 14 September 2025" in page
    assert "Volunteer with a phone, phone" in page
    assert negative.problem["errors"][0]["detail"] in page


def test_the_page_of_one_shows_every_reason_its_place_and_the_bytes(signed_in, ben, negative):
    page = signed_in(ben).get(page_of(negative)).content.decode()
    assert "In the record: line 1, alive" in page
    assert "&quot;alive&quot;: -3" in page
    assert negative.body.replace('"', "&quot;") in page
    assert str(negative.client_id) in page


def test_a_list_without_records_teaches_what_would_stand_there(signed_in, ben):
    assert "No record was refused" in signed_in(ben).get(LIST).content.decode()


def test_the_list_is_reached_from_the_rounds_and_the_cases(signed_in, ben, vera):
    for name in ("round_list", "case_list"):
        address = reverse(f"monitoring:{name}", kwargs={"org": "hill"})
        assert LIST in signed_in(ben).get(address).content.decode()
    rounds = reverse("monitoring:round_list", kwargs={"org": "hill"})
    assert LIST not in signed_in(vera).get(rounds).content.decode()


@pytest.mark.parametrize(
    "body",
    [
        "no JSON at all", "[1, 2]", '"text"', "{}", '{"plot": 3, "observed_on": []}', "[" * 5000, "1" * 6000,
        '{"plot": "x", "note": "\\ud800 <script>alert(1)</script>"}', '{"observed_on": "2025-02-31"}', "x" * 70_000,
    ],
)  # fmt: skip
def test_whatever_was_sent_is_shown_as_text(signed_in, ben, hill, body):
    row = RefusedItem.objects.create(
        organisation=hill, client_id=str(uuid7()), kind="visit", schema="visit/1", body=body, body_sha256="0" * 64,
        problem={"code": "body_unreadable", "errors": []},
    )  # fmt: skip
    for address in (LIST, page_of(row)):
        answer = signed_in(ben).get(address)
        assert answer.status_code == 200
        assert b"<script>alert" not in answer.content
    page = signed_in(ben).get(page_of(row)).content.decode()
    assert "a phone we do not know" in page
    assert ("10\u202f000 more characters are kept but not shown" in page) is (len(body) == 70_000)


def test_a_record_with_half_a_character_in_a_name_is_refused_and_shown(
    signed_in, ben, phone, plots, baselines, survey_round
):
    body = visit_body(plots[0], survey_round, [line(baselines[0], 3, species="\ud800")])
    outcome = log.append_items(phone, [item(body)])[0]
    assert outcome.outcome == "rejected"
    row = RefusedItem.objects.get()
    json.dumps(row.problem, ensure_ascii=False).encode()  # a database that reads JSON can hold it
    assert signed_in(ben).get(page_of(row)).status_code == 200


def test_a_lead_limited_to_projects_sees_those_of_their_phones_only(signed_in, hill, project, negative):
    theirs = factories.member(hill, "field_lead", projects=[project])
    others = factories.member(hill, "field_lead", projects=[factories.project(hill)])
    assert page_of(negative) in signed_in(theirs).get(LIST).content.decode()
    assert page_of(negative) not in signed_in(others).get(LIST).content.decode()
    assert signed_in(others).get(page_of(negative)).status_code == 404


def test_the_list_costs_the_same_for_two_records_and_twenty(
    signed_in, ben, phone, plots, baselines, survey_round
):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    browser, costs = signed_in(ben), []
    browser.get(LIST)
    for number in (2, 18):
        bodies = [visit_body(plots[n % 3], survey_round, [line(baselines[n % 3], -1)]) for n in range(number)]
        log.append_items(phone, [item(body) for body in bodies])
        with CaptureQueriesContext(connection) as queries:
            browser.get(LIST)
        costs.append(len(queries))
    assert costs[0] == costs[1]

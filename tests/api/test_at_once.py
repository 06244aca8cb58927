"""Two senders at the same moment, on PostgreSQL."""

import threading

import pytest
from django.db import connection, connections
from django.test import Client

from monitoring.models import Visit
from monitoring.services import passes
from projects import access
from projects.models import Submission
from projects.services import chain
from tests.api.conftest import SECRET
from tests.api.wire import visit_body, wire
from tests.field_log.visits import line

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


@pytest.fixture(autouse=True)
def on_postgresql(db):
    if connection.vendor != "postgresql":
        pytest.skip("needs PostgreSQL: row locks decide who is first")


def together(work, times: int) -> list:
    """Run the same work in several threads that start at once, and return what each answered."""
    start, answers = threading.Barrier(times), []

    def run(number: int) -> None:
        start.wait()
        try:
            answers.append(work(number))
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(number,)) for number in range(times)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert len(answers) == times
    return answers


def send(items: list) -> list[dict]:
    client = Client()
    client.cookies["tg_field"] = SECRET
    response = client.post("/api/v1/field/items", {"items": items}, content_type="application/json")
    assert response.status_code == 200, response.content
    return response.json()["outcomes"]


def test_one_batch_sent_twice_at_once_is_one_row_each(field_pass, plots, baselines, survey_round, hill):
    items = [
        wire(visit_body(plot, survey_round, [line(one, 9)]))
        for plot, one in zip(plots, baselines, strict=True)
    ]
    answers = together(lambda number: send(items if number else items[::-1]), 2)
    found = sorted(one["outcome"] for answer in answers for one in answer)
    assert found == ["already"] * 3 + ["stored"] * 3
    assert (Submission.objects.count(), Visit.objects.count()) == (3, 3)
    assert list(chain.breaks(hill)) == []


def test_one_id_with_two_contents_at_once_keeps_exactly_one(field_pass, plots, baselines, survey_round, hill):
    body = visit_body(plots[0], survey_round, [line(baselines[0], 9)])
    other = {**body, "lines": [line(baselines[0], 8)]}
    answers = together(lambda number: send([wire(other if number else body)]), 2)
    assert sorted(answer[0]["outcome"] for answer in answers) == ["id_reused", "stored"]
    assert Submission.objects.count() == 1


def test_many_phones_at_once_get_numbers_without_a_gap(field_pass, plots, survey_round, hill):
    answers = together(lambda number: send([wire(visit_body(plots[number % 3], survey_round))]), 8)
    assert sorted(answer[0]["seq"] for answer in answers) == list(range(1, 9))
    assert list(chain.breaks(hill)) == []


def test_one_code_typed_on_two_phones_at_once_signs_one_in(survey_round, ana):
    issued = passes.issue(actor=access.member_actor(ana), rounds=[survey_round], person_name="A volunteer")

    def enrol(_number: int) -> int:
        return (
            Client()
            .post("/api/v1/field/enrol", {"code": issued.code}, content_type="application/json")
            .status_code
        )

    assert sorted(together(enrol, 4)) == [200, 400, 400, 400]

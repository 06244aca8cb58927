"""Every refusal is a problem document with a stable code: never a page, never a 500 for bad input."""

import io
import json
import tracemalloc

import pytest
from django.db import OperationalError
from django.test import Client

from api.parsers import MOST_BYTES
from projects.models import Submission
from tests.api.conftest import problem

pytestmark = pytest.mark.django_db
ITEMS = "/api/v1/field/items"


@pytest.mark.parametrize(
    "address",
    ["/api/", "/api/v1/", "/api/v1/nothing", "/api/v2/session", "/api/v1/session/", "/api/v1/field/items/",
     "/api/v1/o/hill/", "/api/v1/o/hill/secrets/", "/api/v1/o/hill/projects/not-a-uid/", "/api/v1/o/%00/projects/"],
)  # fmt: skip
@pytest.mark.parametrize("method", ["get", "post"])
def test_an_address_that_leads_nowhere_answers_in_json(address, method):
    problem(getattr(Client(), method)(address), 404, "not_found")


@pytest.mark.parametrize("method", ["put", "patch", "delete", "options", "trace"])
@pytest.mark.parametrize("address", ["/api/v1/session", ITEMS, "/api/v1/o/hill/projects/", "/api/v1/schema/"])
def test_other_methods_are_not_possible(address, method, phone):
    response = getattr(phone, method)(address)
    problem(response, 405, "method_not_allowed")
    assert response["Allow"]


def test_reading_what_is_only_sent_is_not_possible(phone):
    problem(phone.get(ITEMS), 405, "method_not_allowed")
    problem(phone.post("/api/v1/session"), 405, "method_not_allowed")


@pytest.mark.parametrize("kind", ["text/plain", "text/html", "application/xml", "multipart/form-data", ""])
def test_another_format_is_refused(phone, kind):
    problem(phone.generic("POST", ITEMS, b'{"items": []}', content_type=kind), 415, "unsupported_media_type")


def test_a_form_is_refused(phone):
    problem(phone.post(ITEMS, {"items": "[]"}), 415, "unsupported_media_type")


@pytest.mark.parametrize(
    "content",
    [b"{", b'{"items": [', b"\xff\xfe\x00", b"\x00", b"{'items': []}", b'{"items": [NaN]}', b'{"items": -Infinity}',
     b"[" * 100_000, b'{"a":' * 40_000, b"9" * 5_000, b'{"items": []} {}'],
)  # fmt: skip
def test_broken_json_says_where_and_stores_nothing(phone, content):
    told = problem(
        phone.generic("POST", ITEMS, content, content_type="application/json"), 400, "json_unreadable"
    )
    assert told["errors"][0]["detail"]
    assert Submission.objects.count() == 0


def test_broken_json_names_line_and_column(phone):
    told = problem(
        phone.generic("POST", ITEMS, b'{\n"items": x}', content_type="application/json"),
        400,
        "json_unreadable",
    )
    assert "line 2, column 10" in told["errors"][0]["detail"]


class CountedBody(io.RawIOBase):
    """A body of any size that takes no room, and knows how much of it was read."""

    def __init__(self, size: int) -> None:
        self.left, self.taken = size, 0

    def read(self, size: int = -1) -> bytes:
        size = self.left if size < 0 else min(size, self.left)
        self.left -= size
        self.taken += size
        return b"x" * size


@pytest.mark.parametrize("address", [ITEMS, "/api/v1/field/enrol"])
def test_twenty_megabytes_are_refused_unread_and_memory_stays_flat(phone, address):
    size = 20 * 1024 * 1024
    phone.get("/api/v1/session")
    body = CountedBody(size)
    tracemalloc.start()
    response = phone.generic(
        "POST",
        address,
        b"",
        **{"wsgi.input": body, "CONTENT_LENGTH": str(size), "CONTENT_TYPE": "application/json"},
    )
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    problem(response, 413, "too_large")
    assert body.taken == 0
    assert peak < 3 * 1024 * 1024


@pytest.mark.parametrize("kind", ["application/x-www-form-urlencoded", "multipart/form-data; boundary=x"])
def test_twenty_megabytes_of_a_form_are_not_read_either(phone, kind):
    body = CountedBody(20 * 1024 * 1024)
    response = phone.generic(
        "POST", ITEMS, b"", **{"wsgi.input": body, "CONTENT_LENGTH": str(body.left), "CONTENT_TYPE": kind}
    )
    problem(response, 413, "too_large")
    assert body.taken == 0


@pytest.mark.parametrize("stated", ["-5", "many", "1e9", "", "9" * 5000])
def test_a_length_that_is_no_number_reads_nothing_or_is_refused(phone, stated):
    body = CountedBody(20 * 1024 * 1024)
    response = phone.generic(
        "POST",
        ITEMS,
        b"",
        **{"wsgi.input": body, "CONTENT_LENGTH": stated, "CONTENT_TYPE": "application/json"},
    )
    assert response.status_code in (400, 413)
    assert body.taken <= MOST_BYTES + 1


@pytest.mark.parametrize("accept", ["text/html", "application/xml", "image/png", "*/*;q=0", "nonsense"])
def test_answers_are_json_whatever_is_asked_for(phone, accept):
    headers = {"Accept": accept}
    problem(Client().get("/api/v1/field/pack", headers=headers), 401, "not_signed_in")
    assert phone.get("/api/v1/field/pack?format=html", headers=headers)["Content-Type"] == "application/json"


def test_a_busy_database_asks_for_patience(phone, monkeypatch):
    from projects.services import log

    def busy(_organisation):
        raise OperationalError("database is locked")

    monkeypatch.setattr(log.chain, "locked_head", busy)
    item = {
        "id": "0192f0c1-2b3d-7e4f-8a5b-6c7d8e9f0a1b",
        "kind": "visit",
        "schema": "visit/1",
        "sha256": "",
        "body": "",
    }
    response = phone.post(ITEMS, {"items": [item]}, content_type="application/json")
    problem(response, 503, "busy")
    assert int(response["Retry-After"]) > 0


def test_a_mistake_of_ours_is_told_without_its_cause(phone, monkeypatch):
    from api.views import field

    def broken(_actor):
        raise RuntimeError("a secret of the machine room")

    monkeypatch.setattr(field, "field_pack", broken)
    phone.raise_request_exception = False
    response = phone.get("/api/v1/field/pack")
    problem(response, 500, "our_mistake")
    assert "machine room" not in response.content.decode()


def test_refusals_speak_the_language_asked_for_and_keep_their_code():
    from django.utils import translation

    with translation.override("pt"):
        expected = translation.gettext("Sign in first")
    told = problem(
        Client().get("/api/v1/field/pack", headers={"Accept-Language": "pt"}), 401, "not_signed_in"
    )
    assert told["title"] == expected


def test_a_problem_document_has_the_members_of_its_standard():
    document = json.loads(Client().get("/api/v1/nothing").content)
    assert set(document) == {"type", "title", "status", "code", "detail", "errors"}
    assert document["type"] == "about:blank"

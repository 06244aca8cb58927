"""Phones and batches, for tests of the API."""

import json
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client

from tests import factories

SECRET = "credential of a phone in the tests"


@pytest.fixture(autouse=True)
def no_earlier_tries():
    """Forget the wrong codes of other tests."""
    cache.clear()


@pytest.fixture
def field_pass(survey_round):
    return factories.field_pass(survey_round, secret=SECRET)


@pytest.fixture
def phone(field_pass) -> Client:
    """A phone that was enrolled for the survey round."""
    client = Client()
    client.cookies["tg_field"] = SECRET
    return client


@pytest.fixture
def send():
    """Return a function that posts items and gives back the outcomes."""

    def post(client: Client, *items: Any) -> list[dict[str, Any]]:
        response = client.post("/api/v1/field/items", {"items": list(items)}, content_type="application/json")
        assert response.status_code == 200, response.content
        outcomes = response.json()["outcomes"]
        assert [one["id"] for one in outcomes] == [item.get("id") for item in items if isinstance(item, dict)]
        return outcomes

    return post


def problem(response: Any, status: int, code: str) -> dict[str, Any]:
    """Hold a response to be a problem document of this status and code, and return it."""
    assert response.status_code == status, response.content
    assert response["Content-Type"] == "application/problem+json"
    document = json.loads(response.content)
    assert document["status"] == status
    assert document["code"] == code
    assert document["title"] and document["detail"]
    assert all(set(error) <= {"pointer", "parameter", "detail"} for error in document["errors"])
    return document

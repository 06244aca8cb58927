"""The OpenAPI description, and the rule that no view may forget its verb."""

import json

import pytest
from django.test import Client

from api import checks
from api.permissions import OPEN
from api.views.base import ApiView
from projects import policy

HTTP_METHODS = {"get", "post", "put", "patch", "delete"}


@pytest.fixture
def description(db) -> dict:
    response = Client().get("/api/v1/schema/")
    assert response.status_code == 200
    return json.loads(response.content)


def operations(description: dict):
    for path, methods in description["paths"].items():
        for method, operation in methods.items():
            if method in HTTP_METHODS:
                yield path, method, operation


def test_the_description_is_openapi_31_and_without_warnings(description, capsys):
    from drf_spectacular.drainage import GENERATOR_STATS
    from drf_spectacular.validation import validate_schema

    assert description["openapi"].startswith("3.1")
    validate_schema(description)
    assert not GENERATOR_STATS


def test_every_view_is_described_with_the_methods_it_answers(description):
    described = {(path, method.upper()) for path, method, _operation in operations(description)}
    answered = {
        ("/" + route, method)
        for route, view in checks.api_views()
        for method in checks.methods_of(view)
        if view.__name__ not in ("NothingView", "SchemaView")
    }
    for before, after in (("<slug:org>", "{org}"), ("<uuid:uid>", "{uid}")):
        answered = {(route.replace(before, after), method) for route, method in answered}
    assert described == answered


def test_every_operation_tells_its_refusals_as_problem_documents(description):
    for _path, method, operation in operations(description):
        needed = {"400", "401", "403", "404"} | ({"413", "415"} if method == "post" else set())
        assert needed <= set(operation["responses"])
        for status in needed:
            assert list(operation["responses"][status]["content"]) == ["application/problem+json"]
        assert operation["summary"]
    assert set(description["components"]["schemas"]["Problem"]["properties"]) == {
        "type", "title", "status", "code", "detail", "errors",
    }  # fmt: skip


def test_lists_are_described_with_their_paging(description):
    listed = description["paths"]["/api/v1/o/{org}/plots/"]["get"]
    assert {"cursor", "page_size", "block", "retired"} <= {one["name"] for one in listed["parameters"]}


def test_every_view_names_verbs_of_the_policy():
    assert checks.every_view_names_its_verbs() == []
    views = [view for _route, view in checks.api_views()]
    assert len(views) > 20
    assert all(issubclass(view, ApiView) for view in views)
    assert {verb for view in views for verb in view.verbs.values()} <= {OPEN, *policy.VERBS}


@pytest.mark.parametrize("verbs", [{}, {"POST": "visit.add"}, {"GET": "no.such.verb"}])
def test_a_view_that_forgets_its_verb_fails_the_check_and_lets_nobody_in(monkeypatch, rf, db, ana, verbs):
    class Forgetful(ApiView):
        def get(self, request):
            raise AssertionError("nobody may come here")

    Forgetful.verbs = verbs
    monkeypatch.setattr(checks, "api_views", lambda: [("api/v1/forgetful", Forgetful)])
    assert [error.id for error in checks.every_view_names_its_verbs()] == ["api.E001"]
    request = rf.get("/api/v1/forgetful")
    request.user, request.actor = ana.user, None
    if verbs != {"GET": "no.such.verb"}:
        assert Forgetful.as_view()(request).status_code == 403


def test_only_what_tells_nothing_is_open_to_anybody():
    opened = {view.__name__ for _route, view in checks.api_views() if OPEN in view.verbs.values()}
    assert opened == {"SessionView", "EnrolView", "LeaveView", "SchemaView", "NothingView"}

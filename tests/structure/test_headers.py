"""Every kind of answer carries the same strict headers, errors and files included."""

import pytest
from django.test import Client

from deploy.headers import content_policy

ANSWERS = [
    ("GET", "/accounts/login/", 200),
    ("GET", "/", 302),
    ("GET", "/nowhere/", 404),
    ("POST", "/", 405),
    ("GET", "/o/hill/", 302),
    ("GET", "/static/css/tallygrove.css", 200),
    ("GET", "/static/nowhere.css", 404),
    ("GET", "/api/v1/session", 200),
    ("GET", "/breaks/", 500),
    ("GET", "/streams/", 200),
    ("GET", "/json/", 200),
]


@pytest.fixture
def visitor(db, settings):
    settings.ROOT_URLCONF = "tests.structure.urls_answers"
    return Client(raise_request_exception=False)


@pytest.mark.parametrize(("method", "path", "status"), ANSWERS)
def test_every_answer_carries_the_policy(visitor, method, path, status):
    answer = visitor.generic(method, path)
    assert answer.status_code == status
    assert answer.headers["Content-Security-Policy"] == content_policy()
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Referrer-Policy"] == "same-origin"
    assert answer.headers["Cross-Origin-Opener-Policy"] == "same-origin"
    assert "camera=(self)" in answer.headers["Permissions-Policy"]


def test_a_form_without_its_token_is_refused_under_the_policy(db):
    answer = Client(enforce_csrf_checks=True).post(
        "/accounts/login/", {"login": "a@b.example", "password": "x"}
    )
    assert answer.status_code == 403
    assert answer.headers["Content-Security-Policy"] == content_policy()


def test_an_unknown_host_is_refused_under_the_policy(db, settings):
    settings.ALLOWED_HOSTS = ["127.0.0.1"]
    answer = Client().get("/accounts/login/", headers={"host": "elsewhere.example"})
    assert answer.status_code == 400
    assert answer.headers["Content-Security-Policy"] == content_policy()


def test_pages_cannot_be_framed(visitor):
    assert visitor.get("/accounts/login/").headers["X-Frame-Options"] == "DENY"


def test_what_people_see_signed_in_is_not_kept_by_caches(visitor, ana):
    visitor.force_login(ana.user, backend="allauth.account.auth_backends.AuthenticationBackend")
    assert "no-store" in visitor.get("/").headers["Cache-Control"]


def test_the_policy_allows_our_own_files_only(settings):
    settings.MAP_TILE_URL = ""
    sources = {word for part in content_policy().split(";") for word in part.split()[1:]}
    assert sources == {"'none'", "'self'", "data:", "blob:"}


def test_the_policy_allows_the_map_tiles_a_setting_names(settings):
    settings.MAP_TILE_URL = "https://tiles.example/{z}/{x}/{y}.png"
    images = next(part for part in content_policy().split(";") if "img-src" in part)
    assert "https://tiles.example/" in images
    assert content_policy().count("tiles.example") == 1

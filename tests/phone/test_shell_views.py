"""The shell's views: the same bytes for everybody, and everything the worker keeps is there to be kept."""

import json
import re

import pytest
from django.contrib.staticfiles import finders

from monitoring.views import phone

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("path", ["/field/", "/field/sw.js", "/field/manifest.webmanifest"])
def test_the_shell_is_public_sets_no_cookie_and_is_asked_for_again_each_time(client, path):
    response = client.get(path)
    assert (response.status_code, response.headers["Cache-Control"]) == (200, "no-cache")
    assert not response.cookies
    assert "Cookie" not in response.headers.get("Vary", "")
    assert "script-src 'self'" in response.headers["Content-Security-Policy"]
    assert client.post(path).status_code in (403, 405)


def test_the_shell_is_the_same_signed_in_or_not(client, ana):
    before = client.get("/field/").content
    client.force_login(getattr(ana, "user", ana))
    assert client.get("/field/").content == before


def test_the_worker_may_serve_field_and_names_only_files_that_exist(client):
    response = client.get("/field/sw.js")
    assert response.headers["Service-Worker-Allowed"] == "/field/"
    assert response.headers["Content-Type"].startswith("text/javascript")
    text = response.content.decode()
    shell = json.loads(re.search(r"^const SHELL = (\[.*\]);$", text, re.M).group(1))
    release = json.loads(re.search(r'^const RELEASE = (".*");$', text, re.M).group(1))
    assert release == phone.phone_release()
    assert "/field/" in shell and len(shell) > 30
    for path in shell:
        if path.startswith("/static/"):
            assert finders.find(path.removeprefix("/static/")), path
    assert not any(path.startswith(("/api/", "/o/")) for path in shell)


def test_the_release_changes_when_any_file_of_the_form_changes(tmp_path, monkeypatch):
    (tmp_path / "worker.js").write_text("1")
    (tmp_path / "app.js").write_text("1")
    monkeypatch.setattr(phone, "PHONE_FILES", tmp_path)
    seen = {phone._digest()}
    for name in ("app.js", "worker.js", "new.js"):
        (tmp_path / name).write_text("2")
        seen.add(phone._digest())
    assert len(seen) == 4


def test_the_manifest_opens_the_form_as_an_app_of_its_own(client):
    content = json.loads(client.get("/field/manifest.webmanifest").content)
    assert (content["start_url"], content["scope"], content["display"]) == (
        "/field/",
        "/field/",
        "standalone",
    )
    assert {icon["sizes"] for icon in content["icons"]} == {"192x192", "512x512"}
    for icon in content["icons"]:
        assert finders.find(icon["src"].removeprefix("/static/"))

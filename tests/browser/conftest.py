"""A phone and a desk in front of the same running service."""

import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.test import Client, override_settings

from tests import demo_template
from tests.phone.conftest import CHROMIUM, FLAGS, Phone

PICTURES = Path(__file__).resolve().parents[2] / "deploy" / "pictures"


class Desk:
    """A desk browser signed in as one member; it remembers what the console complained of."""

    def __init__(self, browser: Any, address: str, user: Any, width: int) -> None:
        self.address, self.complaints = address, []
        context = browser.new_context(viewport={"width": width, "height": 900}, locale="en-GB")
        context.set_default_timeout(20_000)
        context.add_cookies([session_cookie(address, user)])
        self.page = context.new_page()
        self.page.on("console", self.listen)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def listen(self, message: Any) -> None:
        if message.type in ("error", "warning"):
            self.complaints.append(message.text)

    def open(self, path: str) -> str:
        """Open a page, check that it answered, and return its visible text."""
        answer = self.page.goto(self.address + path)
        assert answer.status == 200, f"{path} answered {answer.status}"
        return self.page.inner_text("body")

    def overflow(self) -> int:
        """Return by how many pixels the page is wider than the window."""
        wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        return self.page.evaluate(wide)

    def picture(self, name: str, height: int = 1100) -> None:
        """Write a picture for the README when asked to."""
        if os.environ.get("TALLYGROVE_WRITE_PICTURES") == "1":
            self.page.set_viewport_size({"width": 1100, "height": height})
            self.page.wait_for_timeout(300)
            PICTURES.mkdir(exist_ok=True)
            self.page.screenshot(path=str(PICTURES / f"{name}.png"))


def session_cookie(address: str, user: Any) -> dict[str, str]:
    """Sign a user in the way the tests do, and return the cookie for a browser."""
    client = Client()
    client.force_login(user, backend="allauth.account.auth_backends.AuthenticationBackend")
    return {"name": "sessionid", "value": client.cookies["sessionid"].value, "url": address}


@pytest.fixture
def desk_of(playwright_api, live_server) -> Iterator[Any]:
    browser = playwright_api.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
    yield lambda user, width=1280: Desk(browser, live_server.url, user, width)
    browser.close()


@pytest.fixture
def crew(playwright_api, live_server, tmp_path) -> Iterator[Phone]:
    made = Phone(playwright_api, tmp_path / "profile", live_server.url)
    yield made
    with suppress(Exception):
        made.context.close()


@pytest.fixture
def demo(transactional_db, settings, tmp_path) -> Iterator[SimpleNamespace]:
    """The whole demo, committed, so that a running server shows it."""
    from monitoring.demo.facts import demo_facts

    quiet = override_settings(DEMO=True, JOBS_EMBEDDED_THREAD=False)
    with quiet, demo_template.shown(tmp_path / "demo.sqlite3"):
        yield SimpleNamespace(**demo_facts())

"""A planning manager at a desk: forms filled in and sent as a person does it, nothing written behind the pages."""

from collections.abc import Mapping
from typing import Any

from django.urls import reverse

from monitoring.services import drain


class Planner:
    """One manager's browser. Fields are named as their forms name them."""

    def __init__(self, desk: Any, org: str) -> None:
        self.desk, self.page, self.org = desk, desk.page, org

    def address(self, name: str, **kwargs: Any) -> str:
        """The whole address of a page by its name."""
        return self.desk.address + reverse(f"projects:{name}", kwargs={"org": self.org, **kwargs})

    def go(self, name: str, **kwargs: Any) -> str:
        """Open a page by its name; return its text."""
        return self.desk.open(reverse(f"projects:{name}", kwargs={"org": self.org, **kwargs}))

    def unfold(self) -> None:
        """Open everything that can be opened on the page."""
        shut = self.page.locator("main details:not([open]) > summary")
        while shut.count():
            shut.first.click()

    def fill(self, values: Mapping[str, Any]) -> None:
        """Fill fields of the page's form: a text, a choice, a tick."""
        for name, value in values.items():
            fields = self.page.locator(f"main [name='{name}']")
            kind = fields.first.evaluate("field => field.type || field.tagName.toLowerCase()")
            if kind in ("radio", "checkbox") and not isinstance(value, bool):
                self.page.locator(f"main [name='{name}'][value='{value}']").check()
            elif kind == "checkbox":
                fields.first.set_checked(value)
            elif kind.startswith("select"):
                choose(fields.first, value)
            else:
                fields.first.fill(str(value))

    def press(self, words: str) -> str:
        """Press the button with these words, wait for the page that answers, return its text."""
        with self.page.expect_navigation():
            self.page.get_by_role("button", name=words, exact=True).click()
        return self.page.inner_text("body")

    def follow(self, words: str) -> str:
        """Follow the first link with these words."""
        with self.page.expect_navigation():
            self.page.get_by_role("link", name=words).first.click()
        return self.page.inner_text("body")

    def send(self, values: Mapping[str, Any], words: str) -> str:
        """Fill a form and send it; the page that answers must not be the form with a complaint."""
        self.fill(values)
        text = self.press(words)
        wrong = self.page.locator("main .error-summary, main .problem").all_inner_texts()
        assert not wrong, f"{self.page.url}: {wrong}"
        return text

    def sent_back(self, values: Mapping[str, Any], words: str) -> str:
        """Send a form that must come back with complaints; return its text."""
        self.fill(values)
        return self.press(words)

    def wait_for_work(self) -> None:
        """Let the worker of this test do what was asked for."""
        drain.work_through()


def choose(field: Any, value: str) -> None:
    """Choose an option by its value, else by its words."""
    values = field.evaluate("field => [...field.options].map(option => option.value)")
    if str(value) in values:
        field.select_option(value=str(value))
    else:
        words = field.evaluate("field => [...field.options].map(option => option.label)")
        field.select_option(label=next(each for each in words if str(value) in each))

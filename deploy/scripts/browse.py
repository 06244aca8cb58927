"""A small visitor: keeps cookies, signs in through the form, follows links, reads what a page says."""

import json
import re
import urllib.error
import urllib.parse
import urllib.request
from dataclasses import dataclass, field
from html.parser import HTMLParser
from http.cookiejar import CookieJar
from time import monotonic

UNSPOKEN = {"script", "style", "template"}


@dataclass
class Page:
    """One answer: its address after redirects, what it says and where it leads."""

    url: str
    status: int
    headers: dict[str, str]
    seconds: float
    body: str = ""
    offered_on: str = ""  # the page whose link led here
    text: str = ""
    links: list[tuple[str, str]] = field(default_factory=list)  # (words, address)
    hidden: dict[str, str] = field(default_factory=dict)

    @property
    def path(self) -> str:
        """The address without scheme and host."""
        return urllib.parse.urlsplit(self.url).path


class Reader(HTMLParser):
    """Collects the text, the links and the hidden inputs of a page."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.words: list[str] = []
        self.links: list[tuple[str, str]] = []
        self.hidden: dict[str, str] = {}
        self.silent = 0
        self.link: tuple[str, int] | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        known = dict(attrs)
        if tag in UNSPOKEN:
            self.silent += 1
        elif tag == "a" and known.get("href"):
            self.link = (str(known["href"]), len(self.words))
        elif tag == "input" and known.get("type") == "hidden":
            self.hidden[str(known.get("name"))] = known.get("value") or ""

    def handle_endtag(self, tag: str) -> None:
        if tag in UNSPOKEN:
            self.silent -= 1
        elif tag == "a" and self.link:
            address, since = self.link
            self.links.append((tidy(" ".join(self.words[since:])), address))
            self.link = None

    def handle_data(self, data: str) -> None:
        if not self.silent:
            self.words.append(data)


class Visitor:
    """One person's browser, without script."""

    def __init__(self, address: str) -> None:
        self.address = address
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))

    def get(self, path: str) -> Page:
        """Fetch a page of the service."""
        return self.fetch(urllib.request.Request(urllib.parse.urljoin(self.address + "/", path)))  # noqa: S310

    def post(self, path: str, fields: dict[str, str]) -> Page:
        """Send a form."""
        url = urllib.parse.urljoin(self.address + "/", path)
        body = urllib.parse.urlencode(fields).encode()
        return self.fetch(urllib.request.Request(url, body, {"Referer": url}))  # noqa: S310

    def post_json(self, path: str, content: object, headers: dict[str, str]) -> Page:
        """Send JSON, as the phone form does."""
        url = urllib.parse.urljoin(self.address + "/", path)
        headers = {"Content-Type": "application/json", "Referer": url, **headers}
        return self.fetch(urllib.request.Request(url, json.dumps(content).encode(), headers))  # noqa: S310

    def sign_in(self, email: str, password: str) -> Page:
        """Sign in as a person does: open the form, fill it in, send it."""
        form = self.get("/accounts/login/")
        return self.post("/accounts/login/", {**form.hidden, "login": email, "password": password})

    def fetch(self, request: urllib.request.Request) -> Page:
        """Return the answer, errors included."""
        began = monotonic()
        try:
            answer = self.opener.open(request, timeout=30)
        except urllib.error.HTTPError as problem:
            answer = problem
        with answer:
            body = answer.read()
        page = Page(answer.url, answer.status, dict(answer.headers), monotonic() - began)
        kind = answer.headers.get("Content-Type") or ""
        if "json" in kind or "html" in kind:
            page.body = body.decode()
        if "html" in kind:
            read(page, page.body)
        return page


def read(page: Page, html: str) -> None:
    """Fill in what a page says and where it leads."""
    reader = Reader()
    reader.feed(html)
    page.text, page.links, page.hidden = tidy(" ".join(reader.words)), reader.links, reader.hidden


def tidy(text: str) -> str:
    """Return text on one line; thin and no-break spaces count as blanks."""
    return re.sub(r"\s+", " ", text).strip()

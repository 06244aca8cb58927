"""Every interval on every page of the demo leads to the page that tells how it was computed."""

import re
from collections import deque
from dataclasses import dataclass, field
from html.parser import HTMLParser

import pytest
from django.test import Client
from django.urls import reverse

from monitoring.models import SeasonSummary
from monitoring.services import sharing
from projects import access
from projects.models import Membership, User

pytestmark = pytest.mark.django_db

HOME = "/o/serra-clara/"
MOST_PAGES = 200
OF_A_KIND = 5  # pages whose addresses differ in identities alone
FOLLOWED = 40


@dataclass
class Page(HTMLParser):
    """What a page holds: links, and for each interval where it leads."""

    links: list[str] = field(default_factory=list)
    intervals: list[str] = field(default_factory=list)
    open_spans: list[bool] = field(default_factory=list)

    def __post_init__(self):
        super().__init__()

    def handle_starttag(self, tag, attrs):
        told = dict(attrs)
        classes = (told.get("class") or "").split()
        if tag == "span":
            begins = "interval" in classes or "no-figure" in classes
            self.open_spans.append(begins)
            if begins:
                self.intervals.append("")
        if tag == "a" and told.get("href"):
            self.links.append(told["href"])
            if "how" in classes and any(self.open_spans):
                self.intervals[-1] = told["href"]

    def handle_endtag(self, tag):
        if tag == "span" and self.open_spans:
            self.open_spans.pop()


def read(answer):
    page = Page()
    page.feed(answer.content.decode())
    return page


def kind_of(address):
    """What sort of page it is; the ways down to lots and back up are all of one sort."""
    plain = re.sub(r"[0-9a-f]{8}-[0-9a-f-]{27}", "UID", address)
    return re.sub(r"/where-from/.*", "/where-from/", plain)


@pytest.fixture(scope="module")
def manager(demo):
    client = Client()
    user = User.objects.get(email="manager@serra-clara.example")
    client.force_login(user, backend="allauth.account.auth_backends.AuthenticationBackend")
    return client


@pytest.fixture(scope="module")
def walked(manager):
    """Pages of the demo by address, a few of each kind."""
    pages, waiting, seen, kinds = {}, deque([HOME]), {HOME}, {}
    while waiting and len(pages) < MOST_PAGES:
        address = waiting.popleft()
        answer = manager.get(address)
        if answer.status_code != 200 or "text/html" not in answer.headers["Content-Type"]:
            continue
        pages[address] = read(answer)
        for link in pages[address].links:
            plain = link.split("#")[0].split("?")[0]
            kind = kind_of(plain)
            if plain.startswith(HOME) and plain not in seen and "/method/" not in plain:
                seen.add(plain)
                kinds[kind] = kinds.get(kind, 0) + 1
                if kinds[kind] <= OF_A_KIND:
                    waiting.append(plain)
    return pages


def test_every_interval_leads_to_its_method(walked):
    found = {address: page.intervals for address, page in walked.items() if page.intervals}
    assert sum(len(intervals) for intervals in found.values()) > 60
    assert {"round", "block", "project", "site", "summary", "need"} <= {
        address.split("/")[3] for address in found
    }
    astray = [address for address, intervals in found.items() for link in intervals if "/method/" not in link]
    assert astray == []


def test_the_pages_they_lead_to_work_the_figure_through(walked, manager):
    links = {link for page in walked.values() for link in page.intervals if "figure=" in link}
    assert len(links) > 20
    kinds = {}
    for link in sorted(links):
        kinds.setdefault(link.split("?")[0], []).append(link)
    chosen = [link for same in kinds.values() for link in same[: FOLLOWED // len(kinds)]]
    for link in chosen:
        answer = manager.get(link)
        assert answer.status_code == 200, link
        assert 'id="worked"' in answer.content.decode(), link


def test_a_funders_page_without_sign_in_leads_nowhere(demo):
    summary = SeasonSummary.objects.get()
    membership = Membership.objects.get(user__email="manager@serra-clara.example")
    made = sharing.share(actor=access.member_actor(membership), summary=summary, label="Funder")
    page = read(Client().get(reverse("share:open", kwargs={"token": made.token})))
    assert len(page.intervals) > 2
    assert set(page.intervals) == {""}

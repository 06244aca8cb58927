"""The late-planted oaks: from home, by real links, to the page that says what happened before they were planted."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from monitoring.demo import serra_blocks as blocks
from monitoring.demo.serra_lots import WARM_OAKS
from monitoring.demo.serra_people import TERRACES
from monitoring.models import SurveyRound
from projects.models import Block, Cohort, User

pytestmark = pytest.mark.django_db

HOME = "/o/serra-clara/"
EXPLAINED = f"{WARM_OAKS} : 11 days between lifting and planting, uncooled"


@pytest.fixture
def click(demo):
    """Follow a link that stands on the page one is on; the pages opened since home are counted."""
    client = Client()
    user = User.objects.get(email="manager@serra-clara.example")
    client.force_login(user, backend="allauth.account.auth_backends.AuthenticationBackend")

    class Reader:
        html, clicks = client.get(HOME).content.decode(), 0

        def __call__(self, address):
            assert f'href="{address}' in self.html, f"no link to {address}"
            self.html, self.clicks = client.get(address).content.decode(), self.clicks + 1
            return self

        def row_of(self, words):
            """The words of the table row that links to an address."""
            rows = re.findall(r"<tr\b.*?</tr>", self.html, re.S)
            return plain(next(row for row in rows if words in row))

        def lead(self):
            """What the page says before its first table."""
            return plain(self.html.split("<table", 1)[0])

    return Reader()


def plain(html):
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def address(name, row):
    return reverse(f"monitoring:{name}", kwargs={"org": "serra-clara", "uid": row.uid})


def test_from_its_poor_survival_in_the_round_two_clicks_lead_to_the_eleven_days(click):
    cohort = Cohort.objects.get(block__name=blocks.UPPER, lot__code=WARM_OAKS)
    why = address("trace_cohort", cohort)
    click(address("round_detail", SurveyRound.objects.get(name=f"{TERRACES}, autumn 2026")))
    assert "falls short" in click.row_of(why)
    click(why)
    assert EXPLAINED in click.lead() and click.clicks == 2


def test_from_its_block_three_clicks_lead_there_and_to_the_same_lot_next_door(click):
    block = Block.objects.get(name=blocks.UPPER)
    click(reverse("projects:site_detail", kwargs={"org": "serra-clara", "uid": block.site.uid}))
    click(address("trace_block", block))
    assert EXPLAINED in click.lead() and click.clicks == 2
    beside = Cohort.objects.get(block__name=blocks.LOWER, lot__code=WARM_OAKS)
    assert "falls short" in click.row_of(address("trace_cohort", beside))

"""A share link: shown once, kept as a hash, opened by anybody who has it, until it expires or is withdrawn."""

import hashlib
import re
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from monitoring.services import sharing
from monitoring.services.summaries import make_summary
from projects.errors import Refusal
from projects.models import HistoryEntry, ShareLink
from tests.results.conftest import address, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def summary(actor, hillside):
    return make_summary(actor=actor, project=hillside.project, season=hillside.survey_round.season)


@pytest.fixture
def shared(actor, summary) -> sharing.Shared:
    return sharing.share(actor=actor, summary=summary, label="The river fund")


def opening(token: str) -> str:
    return f"/s/{token}/"


def test_a_link_opens_the_summary_without_a_sign_in_a_cookie_or_a_trace(shared):
    browser = Client()
    answer = browser.get(opening(shared.token))
    assert answer.status_code == 200
    assert "Of those in surveyed blocks" in words(answer)
    assert answer.headers["Cache-Control"] == "private, no-store"
    assert answer.headers["Referrer-Policy"] == "no-referrer"
    assert answer.headers["X-Robots-Tag"] == "noindex, nofollow, noarchive"
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    assert "unsafe-inline" not in answer.headers["Content-Security-Policy"]
    assert not answer.cookies
    assert not browser.cookies
    assert 'name="robots" content="noindex' in answer.content.decode()


def test_a_signed_in_member_who_opens_a_link_leaves_no_name_on_it(signed_in, ana, shared):
    answer = signed_in(ana).get(opening(shared.token))
    assert not answer.cookies
    assert "csrf" not in answer.content.decode()
    assert "Sign out" not in words(answer)


def test_no_person_and_no_position_stands_on_a_shared_page(shared, hillside):
    hillside.plots[0].latitude, hillside.plots[0].longitude = 40.123456, -7.654321
    hillside.plots[0].save()
    text = Client().get(opening(shared.token)).content.decode()
    assert "40.12" not in text
    assert "manager of hill" not in text
    assert "@hill.example" not in text


def test_the_secret_is_never_stored_and_shown_only_once(signed_in, ana, summary):
    client = signed_in(ana)
    answer = client.post(address("summary_share", uid=summary.uid), {"label": "The river fund", "days": "30"})
    token = re.search(r"/s/([\w-]{43})/", answer.content.decode()).group(1)
    link = ShareLink.objects.get()
    assert link.token_hash == hashlib.sha256(token.encode()).hexdigest()
    assert token not in str(ShareLink.objects.values().get())
    assert token not in str(list(HistoryEntry.objects.values()))
    assert token not in client.get(address("summary_detail", uid=summary.uid)).content.decode()
    assert Client().get(opening(token)).status_code == 200


@pytest.mark.parametrize("closing", ["wrong", "expired", "revoked"])
def test_what_opens_nothing_answers_the_same_404_whatever_the_reason(actor, shared, closing):
    nonsense = Client().get(opening("x" * 43))
    token = shared.token
    if closing == "wrong":
        token = token[:-1] + ("a" if token[-1] != "a" else "b")
    elif closing == "expired":
        ShareLink.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    else:
        sharing.revoke(actor=actor, link=shared.link)
    answer = Client().get(opening(token))
    assert (answer.status_code, answer.content) == (404, nonsense.content)
    kept = ("Cache-Control", "Referrer-Policy", "X-Robots-Tag", "Content-Security-Policy", "Content-Type")
    assert all(answer.headers[name] == nonsense.headers[name] for name in kept)
    assert ShareLink.objects.get().use_count == 0


def test_uses_are_counted_and_a_look_ahead_is_not(shared):
    Client().get(opening(shared.token))
    Client().get(opening(shared.token))
    Client().head(opening(shared.token))
    link = ShareLink.objects.get()
    assert link.use_count == 2
    assert link.last_used_at is not None


def test_pictures_of_a_shared_page_open_under_its_secret_only(shared, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    where = re.search(r'src="(/s/[^"]+\.svg)"', Client().get(opening(shared.token)).content.decode()).group(1)
    answer = Client().get(where)
    assert answer.headers["Content-Type"].startswith("image/svg+xml")
    assert answer.headers["Cache-Control"] == "private, no-store"
    assert Client().get(where.replace("survival", "nothing")).status_code == 404
    ShareLink.objects.update(revoked_at=timezone.now())
    assert Client().get(where).status_code == 404


def test_links_last_ninety_days_unless_told_and_a_year_at_most(actor, summary, shared):
    assert shared.link.expires_at - shared.link.created_at == timedelta(days=90)
    for days in (0, 366):
        with pytest.raises(Refusal, match="between 1 and 365"):
            sharing.share(actor=actor, summary=summary, label="x", days=days)


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"label": "", "days": "30"}, "For whom: This field is required."),
        (
            {"label": "Fund", "days": "400"},
            "Days it stays open: Write 365 or less.",
        ),
        (
            {"label": "Fund", "days": "soon"},
            "Days it stays open: Write a whole number in digits, such as 640.",
        ),
    ],
)
def test_bad_input_is_answered_beside_its_field_and_makes_no_link(signed_in, ana, summary, sent, said):
    answer = signed_in(ana).post(address("summary_share", uid=summary.uid), sent)
    assert answer.status_code == 422
    assert said in words(answer)
    assert not ShareLink.objects.exists()


def test_only_a_manager_shares_and_withdraws(signed_in, ben, fred, vera, summary, shared):
    for member in (ben, fred, vera):
        client = signed_in(member)
        sent = {"label": "x", "days": "9"}
        assert client.post(address("summary_share", uid=summary.uid), sent).status_code == 403
        assert client.post(address("link_revoke", uid=shared.link.uid)).status_code == 403
        assert "Share with a funder" not in words(client.get(address("summary_detail", uid=summary.uid)))
    assert ShareLink.objects.filter(revoked_at__isnull=True).count() == 1


def test_a_manager_withdraws_a_link_on_its_page(signed_in, ana, summary, shared):
    client = signed_in(ana)
    assert "The river fund" in words(client.get(address("summary_detail", uid=summary.uid)))
    answer = client.post(address("link_revoke", uid=shared.link.uid), follow=True)
    assert "The link is withdrawn" in words(answer)
    assert Client().get(opening(shared.token)).status_code == 404
    assert HistoryEntry.objects.filter(verb="season_summary.link_revoked").count() == 1


def test_another_organisation_cannot_withdraw_a_link(signed_in, olaf, shared):
    client = signed_in(olaf)
    for slug in ("hill", "other"):
        where = address("link_revoke", uid=shared.link.uid).replace("/hill/", f"/{slug}/")
        assert client.post(where).status_code == 404
    assert ShareLink.objects.get().revoked_at is None

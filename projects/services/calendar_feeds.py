"""Calendar addresses: secret, a member's own, where a calendar program reads what is due. Only the hash is kept."""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from projects import history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import CalendarFeed
from projects.services import editing

MOST_AT_ONCE = 12
READ_NOTED_EVERY = timedelta(hours=1)  # programs ask often; who reads at all is what matters


@dataclass(frozen=True)
class Made:
    """An address with its secret, which nobody can read again afterwards."""

    feed: CalendarFeed
    token: str


@transaction.atomic
def make(*, actor: Actor, label: str, only_mine: bool = False) -> Made:
    """Make a calendar address for the acting member and return it with its secret, shown this once."""
    actor.require("letter.choose")
    if actor.membership is None:
        raise Refusal(_("Only a member can have a calendar address."), code="no_member")
    if not label.strip():
        raise Refusal(_("Say which calendar the address is for."), field="label")
    standing = CalendarFeed.objects.filter(membership=actor.membership, revoked_at__isnull=True)
    if standing.count() >= MOST_AT_ONCE:
        raise Refusal(_("You have %(n)s addresses. Withdraw one that nobody reads.") % {"n": MOST_AT_ONCE})
    token = secrets.token_urlsafe(32)
    feed = CalendarFeed(
        organisation=actor.organisation, membership=actor.membership, token_hash=hashed(token),
        label=label.strip(), only_mine=only_mine,
    )  # fmt: skip
    editing.well_formed(feed)
    feed.save(force_insert=True)
    history.record(actor, "calendar_feed.made", actor.membership, change={"only_mine": [None, only_mine]})
    return Made(feed, token)


@transaction.atomic
def revoke(*, actor: Actor, feed: CalendarFeed) -> None:
    """End an address at once; done twice, nothing more happens."""
    actor.require("letter.choose")
    editing.ours(actor, feed)
    if actor.membership is None or feed.membership_id != actor.membership.pk:
        raise Refusal(_("This is another member's address."), code="not_ours")
    standing = CalendarFeed.objects.filter(pk=feed.pk, revoked_at__isnull=True)
    if standing.update(revoked_at=timezone.now()):
        history.record(actor, "calendar_feed.revoked", actor.membership)


def opened(token: str, now: datetime | None = None) -> CalendarFeed | None:
    """The feed of a secret; None if it is wrong or withdrawn, or its member has left, all alike."""
    now = now or timezone.now()
    feed = (
        CalendarFeed.objects.filter(
            token_hash=hashed(token), revoked_at__isnull=True, membership__ended_at__isnull=True,
            membership__user__is_active=True,
        )
        .select_related("membership__organisation", "membership__person", "membership__user")
        .first()
    )  # fmt: skip
    if feed is not None and (feed.last_read_at is None or feed.last_read_at <= now - READ_NOTED_EVERY):
        CalendarFeed.objects.filter(pk=feed.pk).update(last_read_at=now)
    return feed


def hashed(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()

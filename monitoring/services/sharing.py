"""Share links: a secret address that opens one season summary without a sign-in. Only its hash is kept."""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import timedelta

from django.db import transaction
from django.db.models import F, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from monitoring.models import SeasonSummary
from projects import history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import ShareLink
from projects.services import editing

KIND = "season_summary"
DEFAULT_DAYS, MOST_DAYS = 90, 365


@dataclass(frozen=True)
class Shared:
    """A link with its secret, which nobody can read again afterwards."""

    link: ShareLink
    token: str


@transaction.atomic
def share(*, actor: Actor, summary: SeasonSummary, label: str, days: int = DEFAULT_DAYS) -> Shared:
    """Make a link to one edition and return it with its secret, shown this once."""
    actor.require("summary.share")
    editing.ours(actor, summary)
    if not label.strip():
        raise Refusal(_("Say whom the link is for."), field="label")
    if not 1 <= days <= MOST_DAYS:
        raise Refusal(_("Write between 1 and %(most)s days.") % {"most": MOST_DAYS}, field="days")
    token, now = secrets.token_urlsafe(32), timezone.now()
    link = ShareLink.objects.create(
        organisation=actor.organisation, kind=KIND, target_uid=summary.uid, token_hash=hashed(token),
        label=label.strip()[:120], created_by=actor.person, created_at=now, expires_at=now + timedelta(days=days),
    )  # fmt: skip
    history.record(
        actor, "season_summary.shared", summary, change={"link": [None, link.label], "days": [None, days]}
    )
    return Shared(link, token)


@transaction.atomic
def revoke(*, actor: Actor, link: ShareLink) -> ShareLink:
    """End a link at once; done twice, nothing more happens."""
    actor.require("summary.share")
    editing.ours(actor, link)
    summary = SeasonSummary.objects.get(organisation=actor.organisation, uid=link.target_uid)
    if ShareLink.objects.filter(pk=link.pk, revoked_at__isnull=True).update(revoked_at=timezone.now()):
        history.record(actor, "season_summary.link_revoked", summary, change={"link": [link.label, None]})
    link.refresh_from_db()
    return link


def opened(token: str) -> SeasonSummary | None:
    """The summary behind a secret, the use counted; None if it is wrong, over or withdrawn, all alike."""
    used = valid_links(token).update(use_count=F("use_count") + 1, last_used_at=timezone.now())
    return looked_at(token) if used else None


def looked_at(token: str) -> SeasonSummary | None:
    """The summary behind a secret, the use not counted: for the pictures of a page already opened."""
    link = valid_links(token).first()
    if link is None:
        return None
    rows = SeasonSummary.objects.select_related("organisation", "project", "season")
    return rows.filter(organisation_id=link.organisation_id, uid=link.target_uid).first()


def valid_links(token: str) -> QuerySet[ShareLink]:
    """The link of a secret, if it still opens anything."""
    now = timezone.now()
    return ShareLink.objects.filter(
        token_hash=hashed(token), kind=KIND, revoked_at__isnull=True, expires_at__gt=now
    )


def hashed(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()

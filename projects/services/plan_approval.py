"""Approve a plan: refuse what must not be planted, then freeze everything its papers show."""

import hashlib
import json
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from projects import history
from projects.access import Actor
from projects.documents.plan_pages import plan_pages
from projects.errors import Refusal
from projects.models import Plan, Role
from projects.selectors.plan_content import content_of
from projects.selectors.plan_verdict import verdict_of
from projects.selectors.plans import frame_of
from projects.services import plans, reminders


@transaction.atomic
def approve_plan(*, actor: Actor, plan: Plan, seen: str = "") -> Plan:
    """Approve a draft; from then on neither it nor its papers change.

    `seen` is the digest of the content the person looked at: when anything of it changed since, the approval
    is refused, so that nobody approves what they did not see.
    """
    actor.require("plan.approve")
    if actor.person is None:
        raise Refusal(_("A person must answer for an approval."), code="nobody")
    locked = plans.draft_of(actor, plan)
    against = verdict_of(actor, frame_of(actor, locked)).against
    if against:
        raise Refusal(" ".join(each.words for each in against), code="not_ready")
    if seen and seen != digest(content_of(actor, locked)):
        raise Refusal(
            _("Something of this plan changed after the page was opened. Look at it again, then approve."),
            code="changed_meanwhile",
        )
    locked.approved_by, locked.approved_at = actor.person, timezone.now()
    content = content_of(actor, locked)
    content["plan"]["approved_role"] = str(Role(actor.role).label)
    locked.frozen = {"content": content, "pages": plan_pages(content)}
    locked.save(update_fields=["approved_by", "approved_at", "frozen"])
    history.record(actor, "plan.approved", locked)
    reminders.renew_windows(actor.organisation)
    return locked


def digest(content: dict[str, Any]) -> str:
    """A short name of a plan's content as it stands."""
    text = json.dumps(content, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:32]

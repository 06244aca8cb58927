"""Who agreed to what about a site, and the manager who answers for going on in spite of a hard stop."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from projects import history
from projects.access import Actor
from projects.calc.readiness import STOPS
from projects.errors import Refusal
from projects.models import Consent, ReadinessOverride, Site
from projects.services import editing, reminders

FIELDS = (
    "kind", "with_whom", "reference", "what", "caretaker", "benefits", "given_on", "expires_on", "withdrawn_on",
)  # fmt: skip


@transaction.atomic
def add_consent(*, actor: Actor, site: Site, **values: Any) -> Consent:
    """Add a right, an agreement or a permit."""
    actor.require("site.edit")
    editing.ours(actor, site)
    row = editing.make(actor, Consent(site=site, **_checked(values)), "consent.added")
    reminders.renew_consents(actor.organisation, site_ids=[site.pk])
    return row


@transaction.atomic
def edit_consent(*, actor: Actor, consent: Consent, version: str = "", **values: Any) -> Consent:
    """Change one, or say that it was withdrawn."""
    actor.require("site.edit")
    editing.ours(actor, consent)
    values = _checked(values, consent.given_on)
    row = editing.change(actor, consent, values, "consent.edited", version=version)
    reminders.renew_consents(actor.organisation, site_ids=[consent.site_id])
    return row


def _checked(values: Mapping[str, Any], given_on: date | None = None) -> dict[str, Any]:
    values = {name: value for name, value in values.items() if name in FIELDS}
    begins = values.get("given_on", given_on)
    for name in ("expires_on", "withdrawn_on"):
        if values.get(name) and begins and values[name] < begins:
            raise Refusal(_("This day lies before the one on which it was given."), field=name)
    return values


@transaction.atomic
def override_stop(*, actor: Actor, site: Site, stop: str, reason: str) -> ReadinessOverride:
    """Answer by name for going on in spite of a hard stop; one answer stands for each stop."""
    actor.require("site.edit")
    editing.ours(actor, site)
    editing.held(site)
    if actor.person is None:
        raise Refusal(_("Only a person can answer for this."), code="no_person")
    if stop not in STOPS:
        raise Refusal(_("Choose one of the reasons not to plant."), field="stop")
    if not reason.strip():
        raise Refusal(_("Say why it is right to go on."), field="reason")
    if ReadinessOverride.objects.filter(site=site, stop=stop, withdrawn_at__isnull=True).exists():
        raise Refusal(_("Somebody answers for this already; withdraw that first."), field="stop")
    row = ReadinessOverride(
        site=site, stop=stop, reason=reason.strip(), approved_by=actor.person, approved_at=timezone.now()
    )
    return editing.make(actor, row, "override.approved", reason=reason)


@transaction.atomic
def withdraw_override(*, actor: Actor, override: ReadinessOverride) -> ReadinessOverride:
    """Let the stop stand again; that it was answered for stays readable."""
    actor.require("site.edit")
    editing.ours(actor, override)
    row = editing.held(override)
    if row.withdrawn_at is None:
        row.withdrawn_at = timezone.now()
        row.save(update_fields=["withdrawn_at"])
        history.record(actor, "override.withdrawn", row)
    return row

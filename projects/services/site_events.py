"""What befell a site: storm, frost, fire, flood, heat. Its planted blocks are then due to be walked."""

from datetime import date

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from projects import clocks, history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import EventKind, Site, SiteEvent
from projects.services import editing, reminders


@transaction.atomic
def tell_event(*, actor: Actor, site: Site, kind: str, happened_on: date, note: str = "") -> SiteEvent:
    """Say that something befell a site; each kind once a day."""
    actor.require("walk.edit")
    editing.ours(actor, site)
    if kind not in EventKind.values:
        raise Refusal(_("Choose what happened."), field="kind")
    if happened_on > clocks.today_at(site):
        raise Refusal(
            _("This day has not come yet; enter what happened."), field="happened_on", code="future"
        )
    same = SiteEvent.objects.filter(site=site, kind=kind, happened_on=happened_on, voided_at__isnull=True)
    if same.exists():
        raise Refusal(_("This is on the list already for that day."), field="happened_on", code="taken")
    row = SiteEvent(site=site, kind=kind, happened_on=happened_on, note=note.strip())
    editing.make(actor, row, "site_event.told")
    reminders.renew_walks(actor.organisation)
    return row


@transaction.atomic
def void_event(*, actor: Actor, event: SiteEvent, reason: str) -> SiteEvent:
    """Take back what did not happen; no walk is due for it any more."""
    actor.require("walk.edit")
    editing.ours(actor, event)
    if not reason.strip():
        raise Refusal(_("Say in a few words why this is taken back."), field="reason")
    changed = SiteEvent.objects.filter(pk=event.pk, voided_at__isnull=True).update(voided_at=timezone.now())
    if changed:
        history.record(actor, "site_event.cancelled", event, reason=reason)
        reminders.renew_walks(actor.organisation)
    event.refresh_from_db()
    return event

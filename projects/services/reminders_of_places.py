"""What sites ask people to decide: agreements and permits that end."""

from collections.abc import Sequence
from datetime import timedelta

from django.urls import reverse

from projects.calc.readiness import Agreement, renewed
from projects.models import Consent, Organisation
from projects.services.reminder_rows import Days, ReminderRow, replace

CONSENT_KINDS = ("consent_ends",)
CONSENT_AHEAD = timedelta(days=90)  # an agreement takes time to renew: it is told of this long before it ends


def consents(organisation: Organisation, days: Days) -> list[ReminderRow]:
    """Agreements that end soon."""
    return _ending(organisation, _held(organisation), days)


def renew_consents(organisation: Organisation, site_ids: Sequence[int], days: Days) -> None:
    """Make the reminders of agreements on some sites again."""
    held = _held(organisation, site_ids)
    rows = _ending(organisation, held, days)
    replace(organisation, CONSENT_KINDS, rows, subjects=[row.uid for row in held])


def _held(organisation: Organisation, site_ids: Sequence[int] | None = None) -> list[Consent]:
    rows = Consent.objects.filter(organisation=organisation, site__archived_at__isnull=True)
    if site_ids is not None:
        rows = rows.filter(site_id__in=site_ids)
    return list(rows.select_related("site"))


def _ending(organisation: Organisation, held: list[Consent], days: Days) -> list[ReminderRow]:
    """None is made for an agreement that was withdrawn, or that a later one of its kind and party replaces."""
    given = {row: Agreement(row.kind, row.given_on, row.expires_on, row.withdrawn_on) for row in held}
    return [
        _consent_row(organisation, row)
        for row in held
        if row.withdrawn_on is None
        and row.expires_on is not None
        and row.expires_on <= days.today + CONSENT_AHEAD
        and not renewed(given[row], [given[other] for other in held if _same_parties(row, other)])
    ]


def _same_parties(one: Consent, other: Consent) -> bool:
    return one.site_id == other.site_id and _plainly(one.with_whom) == _plainly(other.with_whom)


def _plainly(name: str) -> str:
    return " ".join(name.casefold().split())


def _consent_row(organisation: Organisation, consent: Consent) -> ReminderRow:
    """Parties are not named: a reminder's facts are kept where nobody would look to erase a name."""
    link = reverse("projects:consent_list", kwargs={"org": organisation.slug, "uid": consent.site.uid})
    facts = {"kind": consent.kind, "site": consent.site.name}
    return ReminderRow("consent_ends", consent.uid, link, due_on=consent.expires_on, rank=25, facts=facts)

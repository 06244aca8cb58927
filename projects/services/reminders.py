"""What needs deciding, and by when. Rows are derived: dropped and made again, with the same keys."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction
from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext as _

from projects import clocks, history
from projects.access import Actor
from projects.calc.ledger import Ledger
from projects.calc.lot_clock import LotClock
from projects.calc.readiness import Agreement, renewed
from projects.errors import Refusal
from projects.models import (
    CareTask,
    Consent,
    OrderStatus,
    Organisation,
    Reminder,
    ReminderSnooze,
    StockLot,
    StockOrder,
)
from projects.selectors.ledgers import LotStanding, standings

NAMESPACE = UUID("6f0f6a3e-6c0a-5d0f-9a55-52b0a4a3f0c1")
LOT_KINDS = ("plant_by", "lot_left", "lot_gap")
TOO_LATE_DAYS = 30  # past its limit by this much a lot is no longer hurried along: what became of it is asked
ORDER_KINDS = ("order_by",)
CARE_KINDS = ("care_due",)
CONSENT_KINDS = ("consent_ends",)
CONSENT_AHEAD = timedelta(days=90)  # an agreement takes time to renew: it is told of this long before it ends
CARE_AHEAD = timedelta(days=30)  # a care task is shown once its window opens within this time


@dataclass(frozen=True)
class ReminderRow:
    """One thing to decide: the facts its words are built from, and the page where it is decided."""

    kind: str
    subject_uid: UUID
    link: str
    due_on: date | None = None
    project_id: int | None = None
    rank: int = 50
    facts: dict[str, Any] = field(default_factory=dict)


@transaction.atomic
def replace(
    organisation: Organisation,
    kinds: Iterable[str],
    rows: Iterable[ReminderRow],
    *,
    subjects: Iterable[UUID] | None = None,
) -> int:
    """Make the reminders of these kinds (of these subjects, where given) exactly `rows`; return how many."""
    kinds = tuple(kinds)
    wanted = {(row.kind, row.subject_uid): row for row in rows if row.kind in kinds}
    held = Reminder.objects.filter(organisation=organisation, kind__in=kinds)
    if subjects is not None:
        held = held.filter(subject_uid__in=list(subjects))
    gone = [row.pk for row in held if (row.kind, row.subject_uid) not in wanted]
    Reminder.objects.filter(pk__in=gone).delete()
    Reminder.objects.bulk_create(
        [_stored(organisation, row) for _key, row in sorted(wanted.items(), key=lambda pair: str(pair[0]))],
        update_conflicts=True,
        unique_fields=["organisation", "kind", "subject_uid"],
        update_fields=["project", "due_on", "facts", "link", "rank"],
    )
    return len(wanted)


def _stored(organisation: Organisation, row: ReminderRow) -> Reminder:
    return Reminder(
        uid=uuid5(NAMESPACE, f"{organisation.uid}:{row.kind}:{row.subject_uid}"),
        organisation=organisation,
        kind=row.kind,
        subject_uid=row.subject_uid,
        project_id=row.project_id,
        due_on=row.due_on,
        facts=row.facts,
        link=row.link,
        rank=row.rank,
    )


def renew(organisation: Organisation, *, today: date | None = None) -> None:
    """Make every reminder of stock, orders and aftercare again, as of the organisation's day."""
    today = today or clocks.today_of(organisation)
    lots = StockLot.objects.filter(organisation=organisation).current()
    replace(organisation, LOT_KINDS, _lot_rows(organisation, standings(lots, today)))
    renew_orders(organisation)
    renew_care(organisation, today=today)
    renew_consents(organisation, today=today)


def renew_lots(organisation: Organisation, lot_ids: Sequence[int], *, today: date | None = None) -> None:
    """Make the reminders of some lots again, after a change to them."""
    today = today or clocks.today_of(organisation)
    lots = StockLot.objects.filter(organisation=organisation, pk__in=lot_ids)
    rows = _lot_rows(organisation, standings(lots.current(), today))
    replace(organisation, LOT_KINDS, rows, subjects=lots.values_list("uid", flat=True))


def _lot_rows(organisation: Organisation, found: Iterable[LotStanding]) -> list[ReminderRow]:
    rows = []
    for standing in found:
        lot, ledger, clock = standing.lot, standing.ledger, standing.clock
        link = reverse("projects:lot_detail", kwargs={"org": organisation.slug, "uid": lot.uid})
        known = {"lot": lot.code, "received": ledger.received}
        if clock is not None and clock.plant_by is not None and ledger.at_hand:
            rows.append(_waiting_row(lot.uid, link, known, ledger, clock))
        if ledger.gap:
            rows.append(ReminderRow("lot_gap", lot.uid, link, rank=60, facts=known | {"gap": ledger.gap}))
    return rows


def _waiting_row(uid: UUID, link: str, known: dict[str, Any], ledger: Ledger, clock: LotClock) -> ReminderRow:
    """Hurry a lot along while it can still be planted; long after, ask what became of it."""
    left = clock.days_left or 0
    facts = known | {
        "days_out": clock.days_out,
        "days_left": left,
        "on_hand": ledger.at_hand,
        "is_counted": ledger.is_counted,
    }
    if left < -TOO_LATE_DAYS:
        return ReminderRow("lot_left", uid, link, rank=60, facts=facts)
    return ReminderRow("plant_by", uid, link, due_on=clock.plant_by, rank=10, facts=facts)


def renew_orders(organisation: Organisation) -> None:
    """Make the reminders of draft orders again."""
    drafts = (
        StockOrder.objects.filter(organisation=organisation, status=OrderStatus.DRAFT, order_by__isnull=False)
        .select_related("project")
        .prefetch_related("lines__species")
    )
    replace(organisation, ORDER_KINDS, [_order_row(organisation, order) for order in drafts])


def _order_row(organisation: Organisation, order: StockOrder) -> ReminderRow:
    lines = list(order.lines.all())
    what = ", ".join(f"{line.quantity} {line.species.scientific_name}" for line in lines[:3])
    facts = {
        "what": what + (" …" if len(lines) > 3 else ""),
        "project": order.project.name,
        "needed_by": order.needed_by.isoformat() if order.needed_by else None,
    }
    link = reverse("projects:order_detail", kwargs={"org": organisation.slug, "uid": order.uid})
    return ReminderRow(
        "order_by", order.uid, link, due_on=order.order_by, project_id=order.project_id, rank=20, facts=facts
    )


def renew_care(
    organisation: Organisation, *, task_uids: Sequence[UUID] | None = None, today: date | None = None
) -> None:
    """Make the reminders of open care tasks again: of some, or of all whose window is open or near."""
    near = (today or clocks.today_of(organisation)) + CARE_AHEAD
    tasks = CareTask.objects.filter(
        Q(due_from__isnull=True) | Q(due_from__lte=near),
        organisation=organisation, done_on__isnull=True, block__archived_at__isnull=True,
    ).select_related("block")  # fmt: skip
    if task_uids is not None:
        tasks = tasks.filter(uid__in=task_uids)
    replace(organisation, CARE_KINDS, [_care_row(organisation, task) for task in tasks], subjects=task_uids)


def _care_row(organisation: Organisation, task: CareTask) -> ReminderRow:
    facts = {
        "what": task.what,
        "kind": task.kind,
        "block": task.block.name,
        "due_from": task.due_from.isoformat() if task.due_from else None,
    }
    link = reverse("projects:block_detail", kwargs={"org": organisation.slug, "uid": task.block.uid})
    return ReminderRow(
        "care_due", task.uid, f"{link}#care", due_on=task.due_by, project_id=task.block.project_id, rank=30,
        facts=facts,
    )  # fmt: skip


def renew_consents(
    organisation: Organisation, *, site_ids: Sequence[int] | None = None, today: date | None = None
) -> None:
    """Make the reminders of agreements that end again: of some sites, or of all in use.

    None is made for an agreement that was withdrawn, or that a later one of its kind with the same party replaces.
    """
    near = (today or clocks.today_of(organisation)) + CONSENT_AHEAD
    rows = Consent.objects.filter(organisation=organisation, site__archived_at__isnull=True)
    if site_ids is not None:
        rows = rows.filter(site_id__in=site_ids)
    held = list(rows.select_related("site"))
    given = {row: Agreement(row.kind, row.given_on, row.expires_on, row.withdrawn_on) for row in held}
    ending = [
        row
        for row in held
        if row.withdrawn_on is None
        and row.expires_on is not None
        and row.expires_on <= near
        and not renewed(given[row], [given[other] for other in held if _same_parties(row, other)])
    ]
    subjects = None if site_ids is None else [row.uid for row in held]
    found = [_consent_row(organisation, row) for row in ending]
    replace(organisation, CONSENT_KINDS, found, subjects=subjects)


def _same_parties(one: Consent, other: Consent) -> bool:
    return one.site_id == other.site_id and _plainly(one.with_whom) == _plainly(other.with_whom)


def _plainly(name: str) -> str:
    return " ".join(name.casefold().split())


def _consent_row(organisation: Organisation, consent: Consent) -> ReminderRow:
    """Parties are not named: a reminder's facts are kept where nobody would look to erase a name."""
    link = reverse("projects:consent_list", kwargs={"org": organisation.slug, "uid": consent.site.uid})
    facts = {"kind": consent.kind, "site": consent.site.name}
    return ReminderRow("consent_ends", consent.uid, link, due_on=consent.expires_on, rank=25, facts=facts)


@transaction.atomic
def snooze(*, actor: Actor, reminder: Reminder, until_on: date, reason: str = "") -> ReminderSnooze:
    """Leave a reminder out of the list until a day; it comes back then if it still stands."""
    actor.require("reminder.snooze")
    if until_on <= clocks.today_of(actor.organisation):
        raise Refusal(_("Choose a day after today."), field="until_on")
    row, _made = ReminderSnooze.objects.update_or_create(
        organisation=actor.organisation,
        kind=reminder.kind,
        subject_uid=reminder.subject_uid,
        defaults={"until_on": until_on, "reason": reason[:200]},
    )
    change = {"until_on": [None, until_on.isoformat()]}
    history.record(actor, f"{reminder.kind}.snoozed", row, change=change, reason=reason)
    return row

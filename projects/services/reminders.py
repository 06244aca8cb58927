"""What needs deciding, and by when: the list made again after a change, put off, and given to somebody.

The families of `projects` are registered here, those of apps above by themselves. Whoever changes a fact calls
the `renew_…` of its kind in the same transaction; `renew` makes the whole list again, soon after each midnight.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from projects import clocks, history
from projects.access import Actor
from projects.announcements import announce, listen
from projects.errors import Refusal
from projects.models import Block, Membership, Organisation, Reminder, ReminderOwner, ReminderSnooze
from projects.selectors.reminder_owners import may_see_to
from projects.services import editing, reminders_of_field, reminders_of_places, reminders_of_stock
from projects.services.reminder_rows import Days, Family, ReminderRow, register, renew, renew_family, replace

__all__ = [
    "ReminderRow", "assign", "at_the_end", "listen_for_changes", "register_families", "renew", "renew_care",
    "renew_consents", "renew_crew_days", "renew_lots", "renew_orders", "renew_walks", "renew_windows", "replace",
    "snooze",
]  # fmt: skip

LOTS = Family(reminders_of_stock.LOT_KINDS, reminders_of_stock.lots)
ORDERS = Family(reminders_of_stock.ORDER_KINDS, reminders_of_stock.orders)
CARE = Family(reminders_of_field.CARE_KINDS, reminders_of_field.care)
WINDOWS = Family(reminders_of_field.WINDOW_KINDS, reminders_of_field.windows)
CREW_DAYS = Family(reminders_of_field.CREW_DAY_KINDS, reminders_of_field.crew_days)
WALKS = Family(reminders_of_field.WALK_KINDS, reminders_of_field.walks)
CONSENTS = Family(reminders_of_places.CONSENT_KINDS, reminders_of_places.consents)


def register_families() -> None:
    """Put the families of this app on the list."""
    for family in (LOTS, ORDERS, CARE, WINDOWS, CREW_DAYS, WALKS, CONSENTS):
        register(family.kinds, family.rows)


def listen_for_changes() -> None:
    """Follow what planting and blocks announce: windows and walks rest on both."""
    for kind in ("planting_changed", "block_changed"):
        listen(kind, _windows_and_walks_of)


def _windows_and_walks_of(block: Block) -> None:
    renew_windows(block.organisation)
    renew_walks(block.organisation)


@dataclass
class Waiting:
    """What an act of several steps will make again once it is over."""

    lot_ids: set[int] = field(default_factory=set)
    windows: bool = False
    walks: bool = False


waiting: ContextVar[Waiting | None] = ContextVar("waiting", default=None)


@contextmanager
def at_the_end(organisation: Organisation) -> Iterator[None]:
    """Make the reminders of lots, windows and walks that change inside again at its end, in this one order.

    Two acts on the same lots would otherwise take a lot's row and its window's crosswise, and wait for each other.
    """
    if waiting.get() is not None:
        yield
        return
    held = Waiting()
    token = waiting.set(held)
    try:
        yield
    finally:
        waiting.reset(token)
    if held.lot_ids:
        renew_lots(organisation, sorted(held.lot_ids))
    elif held.windows:
        renew_windows(organisation)
    if held.walks:
        renew_walks(organisation)


def renew_lots(organisation: Organisation, lot_ids: Sequence[int], *, today: date | None = None) -> None:
    """Make the reminders of some lots again, after a change to them."""
    if (held := waiting.get()) is not None:
        held.lot_ids.update(lot_ids)
        return
    reminders_of_stock.renew_lots(organisation, lot_ids, Days.of(organisation, today))
    renew_windows(organisation, today=today)


def renew_orders(organisation: Organisation, *, today: date | None = None) -> None:
    """Make the reminders of orders again, and let apps above look at theirs that orders settle."""
    renew_family(organisation, ORDERS, Days.of(organisation, today))
    renew_windows(organisation, today=today)
    announce("orders_changed", organisation)


def renew_care(
    organisation: Organisation, *, task_uids: Sequence[UUID] | None = None, today: date | None = None
) -> None:
    """Make the reminders of open care tasks again: of some, or of all."""
    days = Days.of(organisation, today)
    if task_uids is None:
        renew_family(organisation, CARE, days)
    else:
        reminders_of_field.renew_care(organisation, task_uids, days)


def renew_consents(
    organisation: Organisation, *, site_ids: Sequence[int] | None = None, today: date | None = None
) -> None:
    """Make the reminders of agreements that end again: of some sites, or of all in use."""
    days = Days.of(organisation, today)
    if site_ids is None:
        renew_family(organisation, CONSENTS, days)
    else:
        reminders_of_places.renew_consents(organisation, site_ids, days)


def renew_windows(organisation: Organisation, *, today: date | None = None) -> None:
    """Make the reminders of planting windows that close again."""
    if (held := waiting.get()) is not None:
        held.windows = True
        return
    renew_family(organisation, WINDOWS, Days.of(organisation, today))


def renew_crew_days(organisation: Organisation, uids: Sequence[UUID], *, today: date | None = None) -> None:
    """Make the reminders of some planting days again, after a change to them."""
    reminders_of_field.renew_crew_days(organisation, uids, Days.of(organisation, today))


def renew_walks(organisation: Organisation, *, today: date | None = None) -> None:
    """Make the reminders of walks again, after a walk or an event at a site."""
    if (held := waiting.get()) is not None:
        held.walks = True
        return
    renew_family(organisation, WALKS, Days.of(organisation, today))


@transaction.atomic
def snooze(*, actor: Actor, reminder: Reminder, until_on: date, reason: str = "") -> ReminderSnooze:
    """Leave a reminder out of the list until a day; it comes back then if it still stands."""
    actor.require("reminder.snooze")
    editing.ours(actor, reminder)
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


@transaction.atomic
def assign(*, actor: Actor, reminder: Reminder, membership: Membership | None) -> ReminderOwner | None:
    """Say who sees to a reminder; None gives it back to whoever it falls to by itself."""
    actor.require("reminder.assign")
    editing.ours(actor, reminder, membership)
    held = ReminderOwner.objects.filter(
        organisation=actor.organisation, kind=reminder.kind, subject_uid=reminder.subject_uid
    )
    before = held.select_related("membership").first()
    if membership is None:
        if before is not None:
            _remember(actor, reminder, before, before, None)
            held.delete()
        return None
    if not may_see_to(membership, reminder):
        raise Refusal(
            _("This person's role or projects do not include this. Choose somebody who may act on it."),
            field="membership",
            code="may_not_act",
        )
    if before is not None and before.membership_id == membership.pk:
        return before
    row, _made = ReminderOwner.objects.update_or_create(
        organisation=actor.organisation, kind=reminder.kind, subject_uid=reminder.subject_uid,
        defaults={"membership": membership},
    )  # fmt: skip
    _remember(actor, reminder, row, before, membership)
    return row


def _remember(
    actor: Actor,
    reminder: Reminder,
    row: ReminderOwner,
    before: ReminderOwner | None,
    after: Membership | None,
) -> None:
    """Keep who saw to it by the uids of memberships: history holds no names."""
    change: dict[str, list[Any]] = {
        "seen_to_by": [str(before.membership.uid) if before else None, str(after.uid) if after else None]
    }
    history.record(actor, f"{reminder.kind}.assigned", row, change=change)

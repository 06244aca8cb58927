"""What lots and orders ask people to decide: plant or store, find a gap, look again, order, ask where plants are."""

from collections.abc import Iterable, Sequence
from typing import Any
from uuid import UUID

from django.urls import reverse

from projects import clocks
from projects.calc.ledger import Ledger
from projects.calc.lot_clock import COMMON, LotClock
from projects.models import CheckVerdict, LotCheck, OrderStatus, Organisation, StockLot, StockOrder
from projects.selectors.ledgers import LotStanding, standings
from projects.selectors.order_progress import OrderStanding, late_orders
from projects.services.reminder_rows import Days, ReminderRow, replace

LOT_KINDS = ("plant_by", "lot_left", "lot_gap", "check_held")
ORDER_KINDS = ("order_by", "late_delivery")
TOO_LATE_DAYS = 30  # past its limit by this much a lot is no longer hurried along: what became of it is asked


def lots(organisation: Organisation, days: Days) -> list[ReminderRow]:
    """Everything the lots in use ask for."""
    rows = StockLot.objects.filter(organisation=organisation).current()
    return _of_lots(organisation, standings(rows, days.today))


def renew_lots(organisation: Organisation, lot_ids: Sequence[int], days: Days) -> None:
    """Make the reminders of some lots again, after a change to them."""
    some = StockLot.objects.filter(organisation=organisation, pk__in=lot_ids)
    rows = _of_lots(organisation, standings(some.current(), days.today))
    replace(organisation, LOT_KINDS, rows, subjects=some.values_list("uid", flat=True))


def _of_lots(organisation: Organisation, found: Iterable[LotStanding]) -> list[ReminderRow]:
    known = list(found)
    holds = on_hold([standing.lot for standing in known if standing.is_here])
    return [row for standing in known for row in _of_lot(organisation, standing, holds.get(standing.lot.pk))]


def _of_lot(
    organisation: Organisation, standing: LotStanding, hold: LotCheck | None
) -> Iterable[ReminderRow]:
    lot, ledger, clock = standing.lot, standing.ledger, standing.clock
    link = reverse("projects:lot_detail", kwargs={"org": organisation.slug, "uid": lot.uid})
    known = {"lot": lot.code, "received": ledger.received}
    if clock is not None and clock.plant_by is not None and ledger.at_hand:
        source = standing.wait.source if standing.wait else COMMON
        yield _waiting_row(lot.uid, link, known | {"source": source}, ledger, clock)
    if ledger.gap:
        yield ReminderRow("lot_gap", lot.uid, link, rank=60, facts=known | {"gap": ledger.gap})
    if hold is not None:
        held_on = hold.checked_at.astimezone(clocks.zone(organisation.time_zone)).date()
        facts = known | {"on_hand": ledger.at_hand, "held_on": held_on.isoformat()}
        yield ReminderRow("check_held", lot.uid, link, rank=15, facts=facts)


def on_hold(some: Sequence[StockLot]) -> dict[int, LotCheck]:
    """The last look at each of these lots, where it said to hold the lot until it is looked at again."""
    checks = LotCheck.objects.filter(lot_id__in=[lot.pk for lot in some], voided_at__isnull=True)
    last = {check.lot_id: check for check in checks.order_by("checked_at", "id")}
    return {lot_id: check for lot_id, check in last.items() if check.verdict == CheckVerdict.HOLD}


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


def orders(organisation: Organisation, days: Days) -> list[ReminderRow]:
    """Drafts to place by their latest order date, and orders past the day they were promised or needed by."""
    drafts = (
        StockOrder.objects.filter(organisation=organisation, status=OrderStatus.DRAFT, order_by__isnull=False)
        .select_related("project")
        .prefetch_related("lines__species")
    )
    late = late_orders(organisation, days.today)
    return [
        *(_draft_row(organisation, order) for order in drafts),
        *(_late_row(organisation, standing) for standing in late),
    ]


def _draft_row(organisation: Organisation, order: StockOrder) -> ReminderRow:
    facts = {
        "what": what_is_asked(order),
        "project": order.project.name,
        "needed_by": order.needed_by.isoformat() if order.needed_by else None,
    }
    return ReminderRow(
        "order_by", order.uid, _order_link(organisation, order), due_on=order.order_by,
        project_id=order.project_id, rank=20, facts=facts,
    )  # fmt: skip


def _late_row(organisation: Organisation, late: OrderStanding) -> ReminderRow:
    order = late.order
    facts = {
        "what": what_is_asked(order),
        "project": order.project.name,
        "missing": late.to_come,
        "is_promised": late.is_promise,
    }
    return ReminderRow(
        "late_delivery", order.uid, _order_link(organisation, order), due_on=late.due_on,
        project_id=order.project_id, rank=18, facts=facts,
    )  # fmt: skip


def what_is_asked(order: StockOrder) -> str:
    """The first lines of an order in a few words."""
    lines = list(order.lines.all())
    what = ", ".join(f"{line.quantity} {line.species.scientific_name}" for line in lines[:3])
    return what + (" …" if len(lines) > 3 else "")


def _order_link(organisation: Organisation, order: StockOrder) -> str:
    return reverse("projects:order_detail", kwargs={"org": organisation.slug, "uid": order.uid})

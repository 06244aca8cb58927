"""Orders read for their pages: the list, one order, what a nursery was asked for and how it kept its days."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from projects import access
from projects.access import Actor
from projects.calc.order_progress import OPEN
from projects.models import HistoryEntry, Nursery, OrderLine, OrderStatus, StockLot, StockOffer, StockOrder
from projects.selectors.offers import current_offers
from projects.selectors.order_progress import OrderStanding, late_orders, standings_of, with_lines

SHOWN = ("open", "late", "all")
FOUND_AT_ONCE = 50


def order_list(actor: Actor, show: str, today: date) -> QuerySet[StockOrder]:
    """Return the orders the actor may read: those under way or in draft, the late ones, or all."""
    rows = access.visible_orders(actor)
    if show == "late":
        return rows.filter(pk__in=[row.order.pk for row in late_orders(actor.organisation, today)])
    return rows if show == "all" else rows.filter(status__in=(OrderStatus.DRAFT, *OPEN))


def order_rows(orders: Iterable[StockOrder], today: date) -> list[OrderStanding]:
    """Return the orders of a page with how far they have come, in the same order."""
    ids = [order.pk for order in orders]
    found = {
        row.order.pk: row for row in standings_of(with_lines(StockOrder.objects.filter(pk__in=ids)), today)
    }
    return [found[pk] for pk in ids]


def lots_of_order(actor: Actor, standing: OrderStanding) -> list[StockLot]:
    """Return the lots the actor may read that came against an order."""
    ids = {came.lot.pk for row in standing.lines for came in row.lots} | {lot.pk for lot in standing.unasked}
    return list(access.visible_lots(actor).filter(pk__in=ids).order_by("received_on", "id"))


def last_word(actor: Actor, order: StockOrder) -> HistoryEntry | None:
    """Return who closed an order or called it off, and why; nothing for who may not read history."""
    verbs = {OrderStatus.CLOSED: "stock_order.closed", OrderStatus.CANCELLED: "stock_order.cancelled"}
    if order.status not in verbs or not actor.may("history.view"):
        return None
    rows = access.visible_history(actor).filter(subject_uid=order.uid, verb=verbs[OrderStatus(order.status)])
    return rows.order_by("-id").first()


@dataclass(frozen=True)
class OnTime:
    """How a nursery kept the days of its orders; orders that may still come in time are not judged."""

    in_time: int
    late: int
    short: int
    worst_days: int

    @property
    def judged(self) -> int:
        return self.in_time + self.late + self.short


def nursery_orders(actor: Actor, nursery: Nursery, today: date) -> tuple[list[OrderStanding], OnTime]:
    """Return a nursery's newest orders the actor may read, and how it kept their days."""
    rows = access.visible_orders(actor).filter(nursery=nursery).exclude(status=OrderStatus.DRAFT)
    found = order_rows(rows.order_by("-id")[:FOUND_AT_ONCE], today)
    judged = [row.kept for row in found if row.kept is not None]
    late = [each for each in judged if each.late_days]
    return found, OnTime(
        in_time=sum(each.is_in_time for each in judged),
        late=len(late),
        short=sum(not each.is_whole and not each.late_days for each in judged),
        worst_days=max((each.late_days for each in late), default=0),
    )


def offer_for_line(line: OrderLine, today: date) -> StockOffer | None:
    """Return the line's cheapest offer on its nursery's price list that holds today, by age where one is asked."""
    nursery = line.order.nursery
    if nursery is None:
        return None
    rows = [
        offer
        for offer in current_offers(nursery.organisation, today)
        if offer.nursery_id == nursery.pk
        and (offer.species_id, offer.stock_type) == (line.species_id, line.stock_type)
        and (not line.age_code or offer.age_code in ("", line.age_code))
        and (offer.least_quantity is None or offer.least_quantity <= line.quantity)
    ]
    same = [offer for offer in rows if offer.currency == line.currency]
    return min(same or rows, key=lambda offer: offer.unit_price_minor, default=None)

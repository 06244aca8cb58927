"""Stock orders: drafted from needs or by hand, placed, cancelled. An order copies its figures."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import clocks, history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Block, Nursery, OrderLine, OrderStatus, Project, StockOrder, StockType
from projects.services import editing, reminders
from species.models import Species

FIELDS = ("nursery", "reference", "order_by", "needed_by", "reason")


@dataclass(frozen=True)
class Line:
    """What one line of an order asks for."""

    species: Species
    stock_type: str
    quantity: int
    block: Block | None = None
    unit_price_minor: int | None = None
    currency: str = ""


@transaction.atomic
def draft_order(
    *,
    actor: Actor,
    project: Project,
    lines: Iterable[Line],
    nursery: Nursery | None = None,
    order_by: date | None = None,
    needed_by: date | None = None,
    reason: str = "",
    copied_figures: dict[str, Any] | None = None,
) -> StockOrder:
    """Draft an order; nothing is asked of a nursery until it is placed."""
    actor.require("order.edit")
    asked = list(lines)
    editing.ours(actor, project, nursery, *(line.block for line in asked))
    for line in asked:
        editing.species_for_use(actor, line.species)
    if not asked:
        raise Refusal(_("An order asks for at least one thing."), field="lines")
    order = StockOrder(
        project=project, nursery=nursery, order_by=order_by, needed_by=needed_by, reason=reason,
        copied_figures=copied_figures or {}, currency=project.currency,
    )  # fmt: skip
    editing.make(actor, order, "stock_order.made")
    for line in asked:
        _add_line(actor, order, line)
    reminders.renew_orders(actor.organisation)
    return order


def _add_line(actor: Actor, order: StockOrder, line: Line) -> None:
    if line.quantity < 1 or line.stock_type not in StockType.values:
        raise Refusal(_("A line names a stock type and at least one plant."), field="lines")
    OrderLine.objects.create(
        organisation=actor.organisation, order=order, block=line.block, species=line.species,
        stock_type=line.stock_type, quantity=line.quantity, unit_price_minor=line.unit_price_minor,
        currency=line.currency or order.currency,
    )  # fmt: skip


@transaction.atomic
def edit_order(*, actor: Actor, order: StockOrder, version: str = "", **values: Any) -> StockOrder:
    """Change a draft's nursery, dates or words."""
    actor.require("order.edit")
    editing.ours(actor, order, values.get("nursery"))
    _only(order, OrderStatus.DRAFT)
    values = {name: value for name, value in values.items() if name in FIELDS}
    order_by, needed_by = values.get("order_by", order.order_by), values.get("needed_by", order.needed_by)
    if order_by and needed_by and order_by > needed_by:
        raise Refusal(_("The latest order date lies before the day the plants are needed."), field="order_by")
    changed = editing.change(actor, order, values, "stock_order.edited", version=version)
    reminders.renew_orders(actor.organisation)
    return changed


@transaction.atomic
def place_order(*, actor: Actor, order: StockOrder) -> StockOrder:
    """Note that the order was sent to its nursery; of two people pressing at once, one wins."""
    actor.require("order.edit")
    editing.ours(actor, order)
    order.refresh_from_db()
    _only(order, OrderStatus.DRAFT)
    if order.nursery_id is None:
        raise Refusal(_("Choose the nursery before placing the order."), field="nursery")
    today = clocks.today_of(actor.organisation)
    return _turn(
        actor, order, OrderStatus.DRAFT, "stock_order.placed", status=OrderStatus.PLACED, ordered_on=today
    )


@transaction.atomic
def cancel_order(*, actor: Actor, order: StockOrder, reason: str) -> StockOrder:
    """Call an order off; it stays in the records."""
    actor.require("order.edit")
    editing.ours(actor, order)
    order.refresh_from_db()
    if order.status in (OrderStatus.CLOSED, OrderStatus.CANCELLED):
        raise Refusal(_("This order is %(status)s already.") % {"status": order.get_status_display()})
    if not reason.strip():
        raise Refusal(_("Say in a few words why the order is called off."), field="reason")
    return _turn(
        actor, order, order.status, "stock_order.cancelled", reason=reason, status=OrderStatus.CANCELLED
    )


def _turn(
    actor: Actor, order: StockOrder, was: str, verb: str, *, reason: str = "", **values: Any
) -> StockOrder:
    """Move an order on if it still stands where the person saw it."""
    if not StockOrder.objects.filter(pk=order.pk, status=was).update(**values):
        raise Refusal(
            _("Somebody else changed this order meanwhile. Look at it again."), code="changed_meanwhile"
        )
    history.record(actor, verb, order, change={"status": [was, values["status"]]}, reason=reason)
    reminders.renew_orders(actor.organisation)
    order.refresh_from_db()
    return order


def _only(order: StockOrder, status: str) -> None:
    if order.status != status:
        raise Refusal(
            _("This order is %(status)s; only a draft can be changed.")
            % {"status": order.get_status_display()},
            code="not_a_draft",
        )

"""Deliveries taken in: what came, with which note, lot by lot, against an order or without one."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from projects import clocks, figures
from projects.access import Actor
from projects.errors import Refusal
from projects.models import (
    Delivery,
    Nursery,
    OrderLine,
    OrderStatus,
    Person,
    StockLot,
    StockOrder,
    StockType,
    Unit,
)
from projects.services import editing, lots, reminders
from species.models import Species

OPEN_FOR_DELIVERY = (OrderStatus.PLACED, OrderStatus.CONFIRMED, OrderStatus.CLOSED)
EDITABLE = ("note_number", "carrier", "note")


@dataclass(frozen=True)
class Arrived:
    """One lot of a delivery as it was counted; a line of the order may be named though something else came."""

    code: str
    counted: int
    species: Species
    stock_type: str
    order_line: OrderLine | None = None
    stated: int | None = None
    lifted_on: date | None = None
    age_code: str = ""
    provenance: str = ""
    category: str = ""
    certificate: str = ""
    seed_lot: str = ""


@dataclass(frozen=True)
class Received:
    """A delivery with the lots this act made, and those that were in already."""

    delivery: Delivery
    made: list[StockLot] = field(default_factory=list)
    already: list[StockLot] = field(default_factory=list)


class LotRefused(Refusal):
    """One lot of the delivery cannot be as it was told; `at` is its place among them, from 0."""

    def __init__(self, at: int, refusal: Refusal) -> None:
        super().__init__(
            refusal.message, field=FIELD_NAMES.get(refusal.field, refusal.field), code=refusal.code
        )
        self.at = at


FIELD_NAMES = {"received": "counted", "unit": "stock_type"}


@transaction.atomic
def receive_delivery(
    *,
    actor: Actor,
    delivered_on: date,
    arrived: Sequence[Arrived],
    order: StockOrder | None = None,
    nursery: Nursery | None = None,
    uid: UUID | None = None,
    note_number: str = "",
    carrier: str = "",
    note: str = "",
    received_by: Person | None = None,
) -> Received:
    """Take in what came, whole or in part.

    The same delivery (its `uid`, or order, nursery, day and note number) told again joins the one that is there:
    lots that are in already are left as they are, others are added. A code that stands for something else is refused.
    """
    actor.require("lot.edit")
    editing.ours(actor, order, nursery, received_by, *(one.order_line for one in arrived))
    order, nursery = _from(order, nursery)
    _check_header(actor, delivered_on, arrived)
    told = Delivery(
        order=order, nursery=nursery, delivered_on=delivered_on, note_number=note_number.strip(),
        carrier=carrier.strip(), note=note.strip(), received_by=received_by or actor.person,
    )  # fmt: skip
    delivery = _delivery(actor, told, uid)
    made, already = list[StockLot](), list[StockLot]()
    for at, one in enumerate(arrived):
        try:
            known = _known(actor, delivery, one)
            (already if known else made).append(known or _lot(actor, delivery, one))
        except Refusal as refusal:
            raise LotRefused(at, refusal) from refusal
    reminders.renew_lots(actor.organisation, [lot.pk for lot in made])
    reminders.renew_orders(actor.organisation)
    return Received(delivery, made, already)


@transaction.atomic
def edit_delivery(*, actor: Actor, delivery: Delivery, version: str = "", **values: Any) -> Delivery:
    """Correct the words of a delivery: its note, who brought it. Its lots are corrected one by one."""
    actor.require("lot.edit")
    editing.ours(actor, delivery)
    values = {name: str(value).strip() for name, value in values.items() if name in EDITABLE}
    with editing.refusing_duplicates("note_number", _("This delivery note is entered already.")):
        return editing.change(actor, delivery, values, "delivery.edited", version=version)


def _from(order: StockOrder | None, nursery: Nursery | None) -> tuple[StockOrder | None, Nursery]:
    """Lock what two people with one delivery note both hold: the order, else the nursery."""
    if order is not None:
        order = editing.held(order)
        if order.status not in OPEN_FOR_DELIVERY:
            raise Refusal(
                _("This order is %(status)s. Place it first, or take in what came without an order.")
                % {"status": order.get_status_display()},
                code="not_placed",
            )
        nursery = nursery or order.nursery
    if nursery is None:
        raise Refusal(_("Choose the nursery it came from."), field="nursery")
    return order, nursery if order is not None else editing.held(nursery)


def _check_header(actor: Actor, delivered_on: date, arrived: Sequence[Arrived]) -> None:
    if delivered_on > clocks.today_of(actor.organisation):
        raise Refusal(
            _("This day has not come yet. A delivery is entered when it has arrived."), field="delivered_on"
        )
    if not arrived:
        raise Refusal(_("Enter at least one lot that came."), code="nothing_came")
    codes = [one.code.strip() for one in arrived]
    for at, code in enumerate(codes):
        if code in codes[:at]:
            twice = _("Lot %(code)s stands above already. Add a letter to tell them apart.") % {"code": code}
            raise LotRefused(at, Refusal(twice, field="code", code="taken"))


def _delivery(actor: Actor, told: Delivery, uid: UUID | None) -> Delivery:
    found = Delivery.objects.filter(organisation=actor.organisation, uid=uid).first() if uid else None
    if found is None and (told.order is not None or told.note_number):
        found = Delivery.objects.filter(
            organisation=actor.organisation, order=told.order, nursery=told.nursery,
            delivered_on=told.delivered_on, note_number=told.note_number,
        ).first()  # fmt: skip
    if found is not None:
        return _join(actor, found, told)
    if uid is not None and not Delivery.objects.filter(uid=uid).exists():
        told.uid = uid
    return editing.make(actor, told, "delivery.received")


def _join(actor: Actor, found: Delivery, told: Delivery) -> Delivery:
    """Keep what a second person wrote of a delivery beside what the first did."""
    values: dict[str, Any] = {}
    if told.carrier and not found.carrier:
        values["carrier"] = told.carrier
    words = [told.note] if told.note and told.note not in found.note else []
    if told.carrier and found.carrier and told.carrier != found.carrier and told.carrier not in found.note:
        words.append(_("Brought by: %(carrier)s") % {"carrier": told.carrier})
    if words:
        values["note"] = "\n".join([*filter(None, [found.note]), *words])
    return editing.change(actor, found, values, "delivery.edited") if values else found


def _known(actor: Actor, delivery: Delivery, one: Arrived) -> StockLot | None:
    """The lot of this code where it is in with this delivery just as it is told now."""
    lot = StockLot.objects.filter(organisation=actor.organisation, code=one.code.strip()).first()
    if lot is None:
        return None
    told = (delivery.pk, one.counted, one.species.pk, one.stock_type)
    if told == (lot.delivery_id, lot.received, lot.species_id, lot.stock_type):
        return lot
    raise Refusal(
        _(
            "Lot %(code)s is in already: %(number)s received on %(day)s. Give this one another code, or correct that."
        )
        % {"code": lot.code, "number": figures.quantity(lot.received), "day": figures.day(lot.received_on)},
        field="code",
        code="taken",
    )


def _lot(actor: Actor, delivery: Delivery, one: Arrived) -> StockLot:
    line = one.order_line
    if line is not None and line.order_id != delivery.order_id:
        raise Refusal(_("This line belongs to another order."), field="order_line")
    instead = line is not None and (line.species_id, line.stock_type) != (one.species.pk, one.stock_type)
    reason = _("instead of %(what)s") % {"what": _asked(line)} if line is not None and instead else ""
    return lots.take_in(
        actor=actor, delivery=delivery, order_line=line, reason=reason,
        values={
            "code": one.code.strip(), "nursery": delivery.nursery, "species": one.species,
            "stock_type": one.stock_type, "unit": _unit(one.stock_type), "received": one.counted,
            "stated": one.stated, "received_on": delivery.delivered_on, "lifted_on": one.lifted_on,
            "age_code": one.age_code, "provenance": one.provenance, "category": one.category,
            "certificate": one.certificate, "seed_lot": one.seed_lot,
            "unit_cost_minor": None if line is None or instead else line.unit_price_minor,
            "currency": line.currency if line is not None else actor.organisation.currency,
        },
    )  # fmt: skip


def _asked(line: OrderLine) -> str:
    return f"{line.species.scientific_name}, {line.get_stock_type_display()}"


def _unit(stock_type: str) -> str:
    return Unit.SEED_SPOT if stock_type == StockType.DIRECT_SEED else Unit.TREE

"""Stock lots: received, corrected, put away."""

from datetime import date
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from projects import clocks
from projects.access import Actor
from projects.announcements import announce
from projects.errors import Refusal
from projects.models import Delivery, LotMovement, Nursery, OrderLine, StockLot, StockOrder, StockType, Unit
from projects.selectors.ledgers import ledger_of
from projects.services import archiving, editing, lot_splits, reminders
from projects.services.invasive import refuse_invasive
from projects.services.organisations import known_currency

FIELDS = (
    "code", "nursery", "species", "stock_type", "unit", "age_code", "provenance", "seed_lot", "seed_collection",
    "lifted_on", "received_on", "received", "stated", "unit_cost_minor", "currency", "category", "certificate",
    "note",
)  # fmt: skip
FIXED_ONCE_PLANTED = ("species", "stock_type", "unit")


@transaction.atomic
def receive_lot(*, actor: Actor, order: StockOrder | None = None, **values: Any) -> StockLot:
    """Take a lot in; with `order` its delivery is noted against that order."""
    actor.require("lot.edit")
    editing.ours(actor, order, values.get("nursery"), values.get("seed_collection"))
    values = _checked(actor, values)
    delivery = None
    if order is not None:
        delivery = _delivery(actor, order, values["nursery"], values["received_on"])
    lot = take_in(actor=actor, values=values, delivery=delivery)
    reminders.renew_lots(actor.organisation, [lot.pk])
    if order is not None:
        reminders.renew_orders(actor.organisation)
    return lot


def take_in(
    *,
    actor: Actor,
    values: dict[str, Any],
    delivery: Delivery | None = None,
    order_line: OrderLine | None = None,
    reason: str = "",
) -> StockLot:
    """Check and store a lot within the act that receives it; reminders are that act's."""
    lot = StockLot(**_checked(actor, values), delivery=delivery, order_line=order_line)
    with editing.refusing_duplicates("code", _taken(lot.code)):
        return editing.make(actor, lot, "stock_lot.received", reason=reason)


@transaction.atomic
def edit_lot(*, actor: Actor, lot: StockLot, version: str = "", **values: Any) -> StockLot:
    """Correct a lot. What was planted as one species stays that species."""
    actor.require("lot.edit")
    editing.ours(actor, lot, values.get("nursery"), values.get("seed_collection"))
    _check_fixed(lot, values)
    values = _checked(actor, values, lot)
    with editing.refusing_duplicates("code", _taken(values.get("code", ""))):
        changed = editing.change(actor, lot, values, "stock_lot.edited", version=version)
    with reminders.at_the_end(actor.organisation):
        if "lifted_on" in values:
            lot_splits.follow_lifting(actor, changed)
        announce("lot_changed", changed)
        reminders.renew_lots(actor.organisation, [lot.pk])
    return changed


def _taken(code: str) -> str:
    return _("A lot with the code “%(code)s” exists. Add a letter or the date to tell them apart.") % {
        "code": code
    }


def _delivery(actor: Actor, order: StockOrder, nursery: Nursery, delivered_on: date) -> Delivery:
    """The delivery of that day; of several with notes of their own, the one without a note or the first."""
    came: dict[str, Any] = {
        "organisation": actor.organisation,
        "order": order,
        "nursery": nursery,
        "delivered_on": delivered_on,
    }
    found = Delivery.objects.filter(**came).order_by("note_number", "id").first()
    return found or Delivery.objects.get_or_create(**came, note_number="")[0]


def _check_fixed(lot: StockLot, values: dict[str, Any]) -> None:
    if _has_kin(lot):
        _check_kin(lot, values)
    if not lot.planting_days.filter(voided_at__isnull=True).exists():
        return
    for name in FIXED_ONCE_PLANTED:
        if name in values and values[name] != getattr(lot, name):
            raise Refusal(
                _(
                    "This lot has been planted, and counts rest on it. Cancel its planting days before changing this."
                ),
                field=name,
            )


def _has_kin(lot: StockLot) -> bool:
    moved = LotMovement.objects.filter(voided_at__isnull=True, to_lot__isnull=False)
    return moved.filter(Q(lot=lot) | Q(to_lot=lot)).exists()


def _check_kin(lot: StockLot, values: dict[str, Any]) -> None:
    for name in (*FIXED_ONCE_PLANTED, "nursery"):
        if name in values and values[name] != getattr(lot, name):
            raise Refusal(
                _(
                    "Plants of this lot came from another or went into one. Take that back before changing this."
                ),
                field=name,
            )
    if lot.received == 0 and values.get("lifted_on", lot.lifted_on) != lot.lifted_on:
        raise Refusal(
            _("This lot's plants came from other lots, and so does their lifting day. Correct it there."),
            field="lifted_on",
        )


def _checked(actor: Actor, values: dict[str, Any], lot: StockLot | None = None) -> dict[str, Any]:
    values = {name: value for name, value in values.items() if name in FIELDS}
    known_currency(values.get("currency"))
    received_on = values.get("received_on", lot.received_on if lot else None)
    lifted_on = values.get("lifted_on", lot.lifted_on if lot else None)
    if received_on is not None and received_on > clocks.today_of(actor.organisation):
        raise Refusal(
            _("This day has not come yet. A lot is entered when it has arrived."), field="received_on"
        )
    if lifted_on is not None and received_on is not None and lifted_on > received_on:
        raise Refusal(_("A lot is lifted before it is received. Check both days."), field="lifted_on")
    if lot is not None and received_on is not None:
        _check_not_after_use(lot, received_on)
    if values.get("unit_cost_minor") is not None and values["unit_cost_minor"] < 0:
        raise Refusal(_("A cost cannot be negative."), field="unit_cost_minor")
    came_over = lot is not None and lot.received == 0 and _has_kin(lot)
    if values.get("received") is not None and values["received"] < (0 if came_over else 1):
        raise Refusal(_("A lot holds at least one plant."), field="received")
    _check_unit(values, lot)
    _check_seed(values, lot)
    if "species" in values and (lot is None or values["species"] != lot.species):
        editing.species_for_use(actor, values["species"])
        refuse_invasive(actor, values["species"])
    return values


def _check_seed(values: dict[str, Any], lot: StockLot | None) -> None:
    """Plants are of the species whose seed they were raised from, and younger than it."""
    seed = values.get("seed_collection", lot.seed_collection if lot else None)
    if seed is None:
        return
    if values.get("species", lot.species if lot else None) != seed.species:
        raise Refusal(_("This seed lot is of another species."), field="seed_collection")
    received_on = values.get("received_on", lot.received_on if lot else None)
    if received_on is not None and received_on < seed.collected_on:
        raise Refusal(_("This seed was gathered after the lot was received."), field="seed_collection")


def _check_not_after_use(lot: StockLot, received_on: date) -> None:
    first = lot.planting_days.filter(voided_at__isnull=True).order_by("planted_on").first()
    if first is not None and received_on > first.planted_on:
        raise Refusal(
            _("Plants of this lot went into the ground on %(day)s, so they were received by then.")
            % {"day": first.planted_on},
            field="received_on",
        )


def _check_unit(values: dict[str, Any], lot: StockLot | None) -> None:
    """Seed is counted in spots or by weight, plants as trees: the two are never one total."""
    stock_type = values.get("stock_type", lot.stock_type if lot else None)
    unit = values.get("unit", lot.unit if lot else Unit.TREE)
    if (stock_type == StockType.DIRECT_SEED) == (unit == Unit.TREE):
        raise Refusal(
            _("Direct seed is counted in seed spots or by weight or area; every other stock type in trees."),
            field="unit",
        )


@transaction.atomic
def archive_lot(*, actor: Actor, lot: StockLot, reason: str = "") -> StockLot:
    """Put a lot away once nothing of it is left to plant."""
    actor.require("lot.edit")
    editing.ours(actor, lot)
    left = ledger_of(lot).at_hand
    if left:
        raise Refusal(
            _(
                "%(number)s are still on hand. Enter what became of them, or a stock take of 0, and then put it away."
            )
            % {"number": left},
            code="in_use",
        )
    put_away = archiving.put_away(actor=actor, row=lot, verb="stock_lot", reason=reason)
    reminders.renew_lots(actor.organisation, [lot.pk])
    return put_away


@transaction.atomic
def restore_lot(*, actor: Actor, lot: StockLot) -> StockLot:
    """Bring a lot back."""
    actor.require("lot.edit")
    editing.ours(actor, lot)
    back = archiving.bring_back(actor=actor, row=lot, verb="stock_lot")
    reminders.renew_lots(actor.organisation, [lot.pk])
    return back

"""What else becomes of a lot: given out, moved on, culled, returned, lost; counted; stored."""

from datetime import date

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from projects import history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Holding, LotMovement, LotStorage, MovementKind, StockLot, StockTake, StoreKind
from projects.services import editing, lot_splits, reminders
from projects.services.lot_days import check_day, check_not_future


@transaction.atomic
def move(
    *,
    actor: Actor,
    lot: StockLot,
    kind: str,
    quantity: int,
    moved_on: date,
    holding: Holding | None = None,
    note: str = "",
) -> LotMovement:
    """Record plants that left a lot otherwise than into a block. More than is on hand shows as a gap."""
    actor.require("lot.edit")
    editing.ours(actor, lot, holding)
    if kind not in MovementKind.values:
        raise Refusal(_("Choose what happened to the plants."), field="kind")
    if quantity < 1:
        raise Refusal(_("Write how many, at least 1."), field="quantity")
    if holding is not None and kind != MovementKind.GIVEN_OUT:
        raise Refusal(_("A holding is named only when plants are given out to it."), field="holding")
    check_day(lot, moved_on, "moved_on")
    row = LotMovement(lot=lot, kind=kind, quantity=quantity, moved_on=moved_on, holding=holding, note=note)
    editing.make(actor, row, "lot_movement.moved")
    reminders.renew_lots(actor.organisation, [lot.pk])
    return row


@transaction.atomic
def void_movement(*, actor: Actor, movement: LotMovement, reason: str) -> LotMovement:
    """Take back a movement entered by mistake; it stays on the page, struck out."""
    actor.require("lot.edit")
    editing.ours(actor, movement)
    if not reason.strip():
        raise Refusal(_("Say in a few words why this is taken back."), field="reason")
    if movement.to_lot_id is not None:
        return lot_splits.take_back(actor=actor, movement=movement, reason=reason)
    changed = LotMovement.objects.filter(pk=movement.pk, voided_at__isnull=True).update(
        voided_at=timezone.now()
    )
    if changed:
        history.record(actor, "lot_movement.cancelled", movement, reason=reason)
        reminders.renew_lots(actor.organisation, [movement.lot_id])
    movement.refresh_from_db()
    return movement


@transaction.atomic
def count_stock(*, actor: Actor, lot: StockLot, counted_on: date, on_hand: int, note: str = "") -> StockTake:
    """Record what was on hand at the end of a day."""
    actor.require("lot.edit")
    editing.ours(actor, lot)
    if on_hand < 0:
        raise Refusal(_("A count is 0 or more."), field="on_hand")
    check_day(lot, counted_on, "counted_on")
    row = StockTake(lot=lot, counted_on=counted_on, on_hand=on_hand, note=note)
    editing.make(actor, row, "stock_take.made")
    reminders.renew_lots(actor.organisation, [lot.pk])
    return row


@transaction.atomic
def begin_storage(
    *, actor: Actor, lot: StockLot, kind: str, from_on: date, until_on: date | None = None
) -> LotStorage:
    """Record that a lot went into cold store or was heeled in; its clock stands still meanwhile."""
    actor.require("lot.edit")
    editing.ours(actor, lot)
    if kind not in StoreKind.values:
        raise Refusal(_("Choose cold store or heeled in."), field="kind")
    begin = lot.lifted_on or lot.received_on
    if from_on < begin:
        raise Refusal(
            _("The lot was lifted on %(day)s; it cannot be stored before.") % {"day": begin}, field="from_on"
        )
    check_not_future(lot, from_on, "from_on")
    editing.held(lot)
    if until_on is None and lot.storages.filter(until_on__isnull=True).exists():
        raise Refusal(_("The lot is in store already. Enter first when it came out."), field="from_on")
    _check_span(lot, from_on, until_on)
    row = LotStorage(lot=lot, kind=kind, from_on=from_on, until_on=until_on)
    editing.make(actor, row, "lot_storage.made")
    reminders.renew_lots(actor.organisation, [lot.pk])
    return row


@transaction.atomic
def end_storage(*, actor: Actor, storage: LotStorage, until_on: date) -> LotStorage:
    """Record that a lot came out of store; its clock runs on."""
    actor.require("lot.edit")
    editing.ours(actor, storage)
    _check_span(storage.lot, storage.from_on, until_on)
    changed = editing.change(actor, storage, {"until_on": until_on}, "lot_storage.edited")
    reminders.renew_lots(actor.organisation, [storage.lot_id])
    return changed


def _check_span(lot: StockLot, from_on: date, until_on: date | None) -> None:
    if until_on is None:
        return
    if until_on < from_on:
        raise Refusal(_("It comes out of store on or after the day it went in."), field="until_on")
    check_not_future(lot, until_on, "until_on")

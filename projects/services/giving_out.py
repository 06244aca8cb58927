"""Seedlings given out to the holdings of a block: one act for the whole list."""

from collections.abc import Iterable
from datetime import date
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from projects.access import Actor
from projects.errors import Refusal
from projects.identifiers import derived_uid
from projects.models import Block, Holding, LotMovement, MovementKind, StockLot
from projects.services import editing, reminders
from projects.services.lot_days import check_day


@transaction.atomic
def give_out(
    *,
    actor: Actor,
    lot: StockLot,
    block: Block,
    moved_on: date,
    shares: Iterable[tuple[Holding, int]],
    form: UUID,
    note: str = "",
) -> list[LotMovement]:
    """Record how many of a lot each holding was given. The same `form` sent twice gives nothing twice.

    What a holding has received in all is its own figure, corrected on its own page; nothing here changes it.
    """
    actor.require("lot.edit")
    told = [(holding, quantity) for holding, quantity in shares if quantity]
    editing.ours(actor, lot, block, *(holding for holding, _quantity in told))
    if lot.archived_at:
        raise Refusal(_("This lot is put away. Bring it back first."))
    if not told:
        raise Refusal(_("Write a number beside at least one holding."))
    check_day(lot, moved_on, "moved_on")
    editing.held(lot)
    rows = []
    for holding, quantity in told:
        if holding.block_id != block.pk or quantity < 0:
            raise Refusal(_("This holding is on another block's list."), field=str(holding.uid))
        uid = derived_uid("given_out", form, lot.uid, holding.uid)
        row = _movement(lot, holding, quantity, moved_on, note, uid)
        rows.append(_known(row) or editing.make(actor, row, "lot_movement.moved"))
    reminders.renew_lots(actor.organisation, [lot.pk])
    return rows


def _known(told: LotMovement) -> LotMovement | None:
    """The same share of the same form where it was recorded before; refused where it said something else."""
    row = LotMovement.objects.filter(uid=told.uid).first()
    if row is not None and (row.quantity, row.moved_on) != (told.quantity, told.moved_on):
        raise Refusal(
            _(
                "This sheet was recorded with other numbers. Take those back on the lot's page, or open a new sheet."
            ),
            field=str(told.holding.uid) if told.holding else "",
            code="taken",
        )
    return row


def _movement(
    lot: StockLot, holding: Holding, quantity: int, moved_on: date, note: str, uid: UUID
) -> LotMovement:
    return LotMovement(
        uid=uid, lot=lot, kind=MovementKind.GIVEN_OUT, quantity=quantity, moved_on=moved_on, holding=holding,
        note=note,
    )  # fmt: skip

"""Lots split and merged: plants change their lot, and the new one keeps its parents, their clock and their papers."""

from collections.abc import Iterable, Sequence
from datetime import date
from string import ascii_lowercase
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from projects import figures, history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import CheckVerdict, LotCheck, LotMovement, LotStorage, MovementKind, StockLot
from projects.selectors.ledgers import ledgers_of
from projects.selectors.lot_family import family
from projects.services import archiving, editing, reminders
from projects.services.lot_days import check_day

SHARED = (
    "delivery", "order_line", "age_code", "provenance", "category", "certificate", "seed_lot", "seed_collection",
)  # fmt: skip
SAME = ("nursery", "species", "stock_type", "unit")


@transaction.atomic
def split_lot(
    *, actor: Actor, lot: StockLot, quantity: int, moved_on: date, code: str, note: str = ""
) -> StockLot:
    """Move some plants of a lot into a new one with the same origin, clock and papers."""
    return _into_new(actor, [(lot, quantity)], moved_on, code, note, "stock_lot.split_off")


@transaction.atomic
def merge_lots(
    *, actor: Actor, parts: Iterable[tuple[StockLot, int]], moved_on: date, code: str, note: str = ""
) -> StockLot:
    """Move plants of several lots into a new one; its clock is that of the plants that waited longest."""
    taken = list(parts)
    if len({lot.pk for lot, _quantity in taken}) < 2:
        raise Refusal(_("Choose at least one other lot to put together with."), field="lots")
    return _into_new(actor, taken, moved_on, code, note, "stock_lot.merged")


def suggested_code(lot: StockLot) -> str:
    """The lot's code with the first letter no lot has used yet."""
    beginning = f"{lot.code[:37]}-"
    used = set(
        StockLot.objects.filter(organisation_id=lot.organisation_id, code__startswith=beginning).values_list(
            "code", flat=True
        )
    )
    letters = [*ascii_lowercase, *(str(number) for number in range(2, 100))]
    return next((code for one in letters if (code := beginning + one) not in used), "")


@transaction.atomic
def take_back(*, actor: Actor, movement: LotMovement, reason: str) -> LotMovement:
    """Put plants back into the lot they came from, while none of them has left the new one."""
    actor.require("lot.edit")
    editing.ours(actor, movement)
    _hold([movement.lot, movement.to_lot])
    child = movement.to_lot
    if not LotMovement.objects.filter(pk=movement.pk, voided_at__isnull=True).exists():
        return movement
    if _has_left(child):
        raise Refusal(
            _("Plants have left lot %(code)s since. Take that back first, then this.") % {"code": child},
            code="in_use",
        )
    LotMovement.objects.filter(pk=movement.pk).update(voided_at=timezone.now())
    history.record(actor, "lot_movement.cancelled", movement, reason=reason)
    if not child.received and not child.came_over.filter(voided_at__isnull=True).exists():
        archiving.put_away(actor=actor, row=child, verb="stock_lot", reason=reason)
    reminders.renew_lots(actor.organisation, [movement.lot_id, child.pk])
    movement.refresh_from_db()
    return movement


def follow_lifting(actor: Actor, lot: StockLot) -> None:
    """Let lots that came of one show the earliest lifting day of those they came from, once it was corrected."""
    kin = family([lot])
    below = kin.descendants(lot.pk)
    rows = StockLot.objects.in_bulk(kin.ids | family(below).ids)
    whole = family(rows)
    rows |= StockLot.objects.in_bulk(whole.ids - rows.keys())
    for pk in below:
        lifted = _earliest(rows[step.parent_id].lifted_on for step in whole.parents.get(pk, []))
        if rows[pk].received == 0 and rows[pk].lifted_on != lifted:
            rows[pk] = editing.change(actor, rows[pk], {"lifted_on": lifted}, "stock_lot.edited")
    reminders.renew_lots(actor.organisation, below)


def _into_new(
    actor: Actor, parts: Sequence[tuple[StockLot, int]], moved_on: date, code: str, note: str, verb: str
) -> StockLot:
    actor.require("lot.edit")
    lots = [lot for lot, _quantity in parts]
    editing.ours(actor, *lots)
    held = _hold(lots)
    lots = [held[lot.pk] for lot in lots]
    _check_alike(lots)
    _check_numbers(lots, [quantity for _lot, quantity in parts], moved_on)
    child = _child(lots, [quantity for _lot, quantity in parts], moved_on, code, note)
    with editing.refusing_duplicates("code", _taken(child.code)):
        editing.make(actor, child, verb, reason=", ".join(lot.code for lot in lots))
    for lot, (_lot, quantity) in zip(lots, parts, strict=True):
        row = LotMovement(
            lot=lot, kind=MovementKind.MOVED_ON, quantity=quantity, moved_on=moved_on, to_lot=child, note=note
        )
        editing.make(actor, row, "lot_movement.moved")
    _keep_in_store(actor, lots, child, moved_on)
    _keep_on_hold(actor, lots, child)
    reminders.renew_lots(actor.organisation, [child.pk, *(lot.pk for lot in lots)])
    return child


def _taken(code: str) -> str:
    return _("A lot with the code “%(code)s” exists. Give the new one another.") % {"code": code}


def _hold(lots: Iterable[StockLot]) -> dict[int, StockLot]:
    """Lock lots in one order, so that two people who hold several never wait for each other."""
    return {lot.pk: editing.held(lot) for lot in sorted(lots, key=lambda lot: lot.pk)}


def _check_alike(lots: Sequence[StockLot]) -> None:
    first = lots[0]
    for lot in lots:
        if lot.archived_at:
            raise Refusal(_("Lot %(code)s is put away. Bring it back first.") % {"code": lot}, field="lots")
        if any(getattr(lot, name) != getattr(first, name) for name in SAME):
            raise Refusal(
                _(
                    "Lots %(one)s and %(other)s differ in nursery, species, stock type or unit. They stay apart, so"
                    " that their survival can be told apart."
                )
                % {"one": first, "other": lot},
                field="lots",
            )


def _check_numbers(lots: Sequence[StockLot], quantities: Sequence[int], moved_on: date) -> None:
    ledgers = ledgers_of(lots)
    for lot, quantity in zip(lots, quantities, strict=True):
        check_day(lot, moved_on, "moved_on")
        if quantity < 1:
            raise Refusal(_("Write how many, at least 1."), field="quantity")
        if quantity > ledgers[lot.pk].at_hand:
            raise Refusal(
                _("Lot %(code)s has %(number)s on hand. Take fewer, or count it first.")
                % {"code": lot, "number": figures.quantity(ledgers[lot.pk].at_hand)},
                field="quantity",
                code="not_on_hand",
            )


def _child(
    lots: Sequence[StockLot], quantities: Sequence[int], moved_on: date, code: str, note: str
) -> StockLot:
    first = lots[0]
    same: dict[str, Any] = {name: getattr(first, name) for name in SAME}
    for name in SHARED:
        told = {getattr(lot, name) for lot in lots}
        if len(told) == 1:
            same[name] = told.pop()
    if not code.strip():
        raise Refusal(_("Give the new lot a code, as it will stand on its label."), field="code")
    return StockLot(
        code=code.strip(), received=0, received_on=moved_on, note=note,
        lifted_on=_earliest(lot.lifted_on for lot in lots),
        unit_cost_minor=_mean_cost(lots, quantities), currency=first.currency, **same,
    )  # fmt: skip


def _earliest(days: Iterable[date | None]) -> date | None:
    """The earliest day, or None while one is not known."""
    told = list(days)
    known = [day for day in told if day is not None]
    return min(known) if known and len(known) == len(told) else None


def _mean_cost(lots: Sequence[StockLot], quantities: Sequence[int]) -> int | None:
    costs = [lot.unit_cost_minor for lot in lots]
    known = [cost for cost in costs if cost is not None]
    if len(known) < len(costs) or len({lot.currency for lot in lots}) > 1:
        return None
    total = sum(cost * quantity for cost, quantity in zip(known, quantities, strict=True))
    return round(total / sum(quantities))


def _keep_in_store(actor: Actor, lots: Sequence[StockLot], child: StockLot, moved_on: date) -> None:
    """The new lot stays in store where all its plants were in store on the day they moved."""
    spans = [next((span for span in lot.storages.all() if _covers(span, moved_on)), None) for lot in lots]
    stored = [span for span in spans if span is not None]
    if len(stored) < len(spans):
        return
    ends = [span.until_on for span in stored if span.until_on is not None]
    row = LotStorage(lot=child, kind=stored[0].kind, from_on=moved_on, until_on=min(ends, default=None))
    editing.make(actor, row, "lot_storage.made")


def _keep_on_hold(actor: Actor, lots: Sequence[StockLot], child: StockLot) -> None:
    """What was held or rejected stays so under another code: the gravest last look at a parent goes along."""
    looks = LotCheck.objects.filter(lot__in=lots, voided_at__isnull=True).order_by("checked_at", "id")
    last = {look.lot_id: look for look in looks.select_related("lot")}
    against = [look for look in last.values() if look.verdict != CheckVerdict.ACCEPT]
    if not against:
        return
    worst = max(against, key=lambda look: (look.verdict == CheckVerdict.REJECT, look.checked_at))
    why = _("as lot %(code)s: %(why)s") % {"code": worst.lot, "why": worst.because}
    row = LotCheck(
        lot=child, point=worst.point, checked_at=worst.checked_at, checked_by=worst.checked_by,
        verdict=worst.verdict, because=why[:300],
    )  # fmt: skip
    editing.make(actor, row, "lot_check.made")


def _covers(span: LotStorage, day: date) -> bool:
    return span.from_on <= day and (span.until_on is None or day < span.until_on)


def _has_left(lot: StockLot) -> bool:
    live = {"voided_at__isnull": True}
    return lot.planting_days.filter(**live).exists() or lot.movements.filter(**live).exists()

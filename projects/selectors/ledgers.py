"""Where the plants of lots are, and how long they have been out: read for one lot or for a page of them."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Max

from projects.calc.ledger import Count, Event, Ledger, lot_ledger
from projects.calc.lot_clock import LotClock, Span, limit_for, lot_clock
from projects.models import LotMovement, LotStorage, PlantingDay, StockLot, StockTake


@dataclass(frozen=True)
class LotStanding:
    """A lot with its ledger and its clock on a day."""

    lot: StockLot
    ledger: Ledger
    clock: LotClock | None


def standings(lots: Iterable[StockLot], today: date) -> list[LotStanding]:
    """Read ledgers and clocks of many lots in four queries, however many they are."""
    rows = list(lots)
    ledgers = ledgers_of(rows)
    stores = stores_of(rows)
    return [LotStanding(lot, ledgers[lot.pk], clock_of(lot, stores[lot.pk], today)) for lot in rows]


def ledger_of(lot: StockLot) -> Ledger:
    """Read the ledger of one lot."""
    return ledgers_of([lot])[lot.pk]


def ledgers_of(lots: Sequence[StockLot]) -> dict[int, Ledger]:
    """Read the ledgers of lots in three queries."""
    ids = [lot.pk for lot in lots]
    events: dict[int, list[Event]] = defaultdict(list)
    planted = PlantingDay.objects.filter(lot_id__in=ids, voided_at__isnull=True)
    for lot_id, quantity, day in planted.values_list("lot_id", "quantity", "planted_on").order_by():
        events[lot_id].append(Event("planted", quantity, day))
    moved = LotMovement.objects.filter(lot_id__in=ids, voided_at__isnull=True)
    for lot_id, kind, quantity, day in moved.values_list("lot_id", "kind", "quantity", "moved_on").order_by():
        events[lot_id].append(Event(kind, quantity, day))
    counts = _counts(ids)
    return {lot.pk: lot_ledger(lot.received, events[lot.pk], counts[lot.pk]) for lot in lots}


def _counts(ids: Sequence[int]) -> dict[int, list[Count]]:
    counts: dict[int, list[Count]] = defaultdict(list)
    rows = StockTake.objects.filter(lot_id__in=ids).order_by("counted_on", "id")
    for lot_id, day, on_hand in rows.values_list("lot_id", "counted_on", "on_hand"):
        counts[lot_id].append(Count(day, on_hand))
    return counts


def stores_of(lots: Sequence[StockLot]) -> dict[int, list[Span]]:
    stores: dict[int, list[Span]] = defaultdict(list)
    rows = LotStorage.objects.filter(lot_id__in=[lot.pk for lot in lots])
    for lot_id, start, end in rows.values_list("lot_id", "from_on", "until_on"):
        stores[lot_id].append(Span(start, end))
    return stores


def clock_of(lot: StockLot, stores: Iterable[Span], on: date) -> LotClock | None:
    """Return the lot's clock on a day, or None while its lifting day is unknown or still to come."""
    if lot.lifted_on is None or lot.lifted_on > on:
        return None
    return lot_clock(lot.lifted_on, stores, on=on, limit_days=limit_for(lot.stock_type))


def clocks_when_planted(lot: StockLot) -> dict[int, LotClock]:
    """Return {planting day id: the clock on that day} for a lot: how long each day's plants had waited."""
    stores = stores_of([lot])[lot.pk]
    days = lot.planting_days.filter(voided_at__isnull=True).values_list("id", "planted_on")
    found = {day_id: clock_of(lot, stores, planted_on) for day_id, planted_on in days}
    return {day_id: clock for day_id, clock in found.items() if clock is not None}


def last_planted(lot: StockLot) -> date | None:
    """Return the last day the lot was planted on."""
    return lot.planting_days.filter(voided_at__isnull=True).aggregate(last=Max("planted_on"))["last"]

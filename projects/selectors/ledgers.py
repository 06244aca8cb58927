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
class Waited:
    """How long a lot's plants had waited on the days they were planted, the fewest and the most days."""

    out: tuple[int, int]
    stored: tuple[int, int]
    limit_days: int | None

    @property
    def is_over(self) -> bool:
        """Whether some of them waited longer than their limit."""
        return self.limit_days is not None and self.out[1] > self.limit_days


@dataclass(frozen=True)
class LotStanding:
    """A lot with its ledger, its clock on a day, and how long what was planted of it had waited."""

    lot: StockLot
    ledger: Ledger
    clock: LotClock | None
    waited: Waited | None = None

    @property
    def is_here(self) -> bool:
        """Whether any of it is on hand, so that its clock still means something."""
        return self.ledger.at_hand > 0


def standings(lots: Iterable[StockLot], today: date) -> list[LotStanding]:
    """Read ledgers and clocks of many lots in five queries, however many they are."""
    rows = list(lots)
    ledgers, stores, days = ledgers_of(rows), stores_of(rows), planted_days(rows)
    return [
        LotStanding(
            lot,
            ledgers[lot.pk],
            clock_of(lot, stores[lot.pk], today),
            waited_of(lot, stores[lot.pk], days[lot.pk]),
        )
        for lot in rows
    ]


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


def planted_days(lots: Sequence[StockLot]) -> dict[int, list[date]]:
    """Return {lot id: the days it was planted on}."""
    days: dict[int, list[date]] = defaultdict(list)
    rows = PlantingDay.objects.filter(lot_id__in=[lot.pk for lot in lots], voided_at__isnull=True)
    for lot_id, day in rows.order_by("planted_on").values_list("lot_id", "planted_on").distinct():
        days[lot_id].append(day)
    return days


def waited_of(lot: StockLot, stores: Iterable[Span], days: Iterable[date]) -> Waited | None:
    """Return how long the plants of a lot's planting days had waited, or None without a known lifting day."""
    spans = list(stores)
    clocks = [clock for day in days if (clock := clock_of(lot, spans, day)) is not None]
    if not clocks:
        return None
    out, stored = sorted(clock.days_out for clock in clocks), sorted(clock.days_stored for clock in clocks)
    return Waited((out[0], out[-1]), (stored[0], stored[-1]), clocks[0].limit_days)


def last_planted(lot: StockLot) -> date | None:
    """Return the last day the lot was planted on."""
    return lot.planting_days.filter(voided_at__isnull=True).aggregate(last=Max("planted_on"))["last"]

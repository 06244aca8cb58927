"""Where the plants of lots are, and how long they have been out: read for one lot or for a page of them."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Max

from projects.calc.ledger import Arrival, Count, Event, Ledger, lot_ledger
from projects.calc.lot_clock import LotClock, Past, Span, Wait, family_clock, wait_for
from projects.models import LotCheck, LotMovement, LotStorage, PlantingDay, RootCondition, StockLot, StockTake
from projects.selectors.lot_family import Family, ancestry


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
    wait: Wait | None = None
    was_frozen: bool = False
    verdict: str = ""  # of the last look at it; empty where nobody looked
    clocks: "Clocks | None" = None  # to ask for its clock on other days

    @property
    def is_here(self) -> bool:
        """Whether any of it is on hand, so that its clock still means something."""
        return self.ledger.at_hand > 0


@dataclass(frozen=True)
class Clocks:
    """Clocks of some lots, whatever lots their plants were in before."""

    pasts: dict[int, Past]
    frozen: frozenset[int]
    verdicts: dict[int, str] = field(default_factory=dict)

    def wait(self, lot: StockLot) -> Wait | None:
        """How long plants of the lot can wait out of store, and whose word that is."""
        return wait_for(lot.stock_type, was_frozen=lot.pk in self.frozen)

    def on(self, lot: StockLot, day: date) -> LotClock | None:
        """Return the lot's clock on a day, or None while its lifting day is unknown or still to come."""
        wait = self.wait(lot)
        return family_clock(self.pasts, lot.pk, on=day, limit_days=None if wait is None else wait.days)

    def waited(self, lot: StockLot, days: Iterable[date]) -> Waited | None:
        """How long the plants of planting days had waited, or None without a known lifting day."""
        clocks = [clock for day in days if (clock := self.on(lot, day)) is not None]
        if not clocks:
            return None
        out, stored = sorted(one.days_out for one in clocks), sorted(one.days_stored for one in clocks)
        return Waited((out[0], out[-1]), (stored[0], stored[-1]), clocks[0].limit_days)


def standings(lots: Iterable[StockLot], today: date) -> list[LotStanding]:
    """Read ledgers and clocks of many lots in seven queries, and two a generation of splits and merges."""
    rows = list(lots)
    kin = ancestry([lot.pk for lot in rows])
    ledgers, clocks, days = _ledgers(rows, kin), _clocks(rows, kin), planted_days(rows)
    return [
        LotStanding(
            lot, ledgers[lot.pk], clocks.on(lot, today), clocks.waited(lot, days[lot.pk]), clocks.wait(lot),
            lot.pk in clocks.frozen, clocks.verdicts.get(lot.pk, ""), clocks,
        )
        for lot in rows
    ]  # fmt: skip


def ledger_of(lot: StockLot) -> Ledger:
    """Read the ledger of one lot."""
    return ledgers_of([lot])[lot.pk]


def ledgers_of(lots: Sequence[StockLot]) -> dict[int, Ledger]:
    """Read the ledgers of lots in four queries, and one a generation of splits and merges."""
    return _ledgers(lots, ancestry([lot.pk for lot in lots]))


def _ledgers(lots: Sequence[StockLot], kin: Family) -> dict[int, Ledger]:
    ids = [lot.pk for lot in lots]
    events: dict[int, list[Event]] = defaultdict(list)
    planted = PlantingDay.objects.filter(lot_id__in=ids, voided_at__isnull=True)
    for lot_id, quantity, day in planted.values_list("lot_id", "quantity", "planted_on").order_by():
        events[lot_id].append(Event("planted", quantity, day))
    moved = LotMovement.objects.filter(lot_id__in=ids, voided_at__isnull=True)
    for lot_id, kind, quantity, day in moved.values_list("lot_id", "kind", "quantity", "moved_on").order_by():
        events[lot_id].append(Event(kind, quantity, day))
    counts = _counts(ids)
    return {
        lot.pk: lot_ledger(lot.received, events[lot.pk], counts[lot.pk], _arrivals(kin, lot.pk))
        for lot in lots
    }


def _arrivals(kin: Family, lot_id: int) -> list[Arrival]:
    return [Arrival(step.quantity, step.moved_on) for step in kin.parents.get(lot_id, [])]


def _counts(ids: Sequence[int]) -> dict[int, list[Count]]:
    counts: dict[int, list[Count]] = defaultdict(list)
    rows = StockTake.objects.filter(lot_id__in=ids).order_by("counted_on", "id")
    for lot_id, day, on_hand in rows.values_list("lot_id", "counted_on", "on_hand"):
        counts[lot_id].append(Count(day, on_hand))
    return counts


def clocks_of(lots: Sequence[StockLot]) -> Clocks:
    """Read what the clocks of lots are counted from."""
    return _clocks(lots, ancestry([lot.pk for lot in lots]))


def _clocks(lots: Sequence[StockLot], kin: Family) -> Clocks:
    known = {lot.pk: lot for lot in lots}
    known |= StockLot.objects.in_bulk(kin.ids - known.keys()) if kin.ids - known.keys() else {}
    stores = _stores(known)
    icy, verdicts = _looks(known)
    return Clocks(
        {
            pk: Past(
                lot.received > 0 or not kin.parents.get(pk),
                lot.lifted_on,
                tuple(stores[pk]),
                tuple((step.parent_id, step.moved_on) for step in kin.parents.get(pk, [])),
            )
            for pk, lot in known.items()
        },
        frozenset(pk for pk in known if icy & {pk, *kin.ancestors(pk)}),
        verdicts,
    )


def _stores(ids: Iterable[int]) -> dict[int, list[Span]]:
    stores: dict[int, list[Span]] = defaultdict(list)
    rows = LotStorage.objects.filter(lot_id__in=list(ids))
    for lot_id, start, end in rows.values_list("lot_id", "from_on", "until_on"):
        stores[lot_id].append(Span(start, end))
    return stores


def _looks(ids: Iterable[int]) -> tuple[set[int], dict[int, str]]:
    """Lots that somebody found frozen when they changed hands, and what was decided at the last look at each."""
    checks = LotCheck.objects.filter(lot_id__in=list(ids), voided_at__isnull=True).order_by(
        "checked_at", "id"
    )
    rows = list(checks.values_list("lot_id", "root_condition", "verdict"))
    icy = {lot_id for lot_id, roots, _verdict in rows if roots == RootCondition.FROZEN}
    return icy, {lot_id: verdict for lot_id, _roots, verdict in rows}


def clocks_when_planted(lot: StockLot) -> dict[int, LotClock]:
    """Return {planting day id: the clock on that day} for a lot: how long each day's plants had waited."""
    clocks = clocks_of([lot])
    days = lot.planting_days.filter(voided_at__isnull=True).values_list("id", "planted_on")
    found = {day_id: clocks.on(lot, planted_on) for day_id, planted_on in days}
    return {day_id: clock for day_id, clock in found.items() if clock is not None}


def planted_days(lots: Sequence[StockLot]) -> dict[int, list[date]]:
    """Return {lot id: the days it was planted on}."""
    days: dict[int, list[date]] = defaultdict(list)
    rows = PlantingDay.objects.filter(lot_id__in=[lot.pk for lot in lots], voided_at__isnull=True)
    for lot_id, day in rows.order_by("planted_on").values_list("lot_id", "planted_on").distinct():
        days[lot_id].append(day)
    return days


def last_planted(lot: StockLot) -> date | None:
    """Return the last day the lot was planted on."""
    return lot.planting_days.filter(voided_at__isnull=True).aggregate(last=Max("planted_on"))["last"]

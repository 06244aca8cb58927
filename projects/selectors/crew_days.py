"""Planting days as pages read them: what is coming, what waits to be closed, one day with its people and lots."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Count, F, OuterRef, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from projects import access, clocks
from projects import day_rule_words as words
from projects.access import Actor
from projects.calc.lot_clock import LotClock
from projects.models import (
    Block,
    CrewDay,
    CrewDayLot,
    CrewDayPerson,
    CrewDayState,
    DayRule,
    LotCheck,
    LotMovement,
    PlantingDay,
    Project,
    StockLot,
)
from projects.selectors.ledgers import clocks_of, ledgers_of
from projects.services.crew_day_closing import movements_of

OPEN = (CrewDayState.PLANNED, CrewDayState.GO, CrewDayState.NO_GO)


def with_sums(days: QuerySet[CrewDay]) -> QuerySet[CrewDay]:
    """Add how many are meant and planted and how many go, without one sum swelling another."""
    meant = CrewDayLot.objects.filter(crew_day=OuterRef("pk")).order_by().values("crew_day")
    planted = PlantingDay.objects.filter(crew_day=OuterRef("pk"), voided_at__isnull=True)
    planted = planted.order_by().values("crew_day")
    going = CrewDayPerson.objects.filter(crew_day=OuterRef("pk")).order_by().values("crew_day")
    return days.select_related("block__site").annotate(
        meant=Coalesce(Subquery(meant.annotate(n=Sum("planned")).values("n")), 0),
        planted=Coalesce(Subquery(planted.annotate(n=Sum("quantity")).values("n")), 0),
        going=Coalesce(Subquery(going.annotate(n=Count("id")).values("n")), 0),
    )


@dataclass(frozen=True)
class DayLists:
    """Days that are open, by whether they lie ahead."""

    ahead: Sequence[CrewDay]
    to_close: Sequence[CrewDay]


def open_days(days: QuerySet[CrewDay], today: date, most: int = 100) -> DayLists:
    """Days still open: today's and those ahead, the next first; and those past that nobody closed, oldest first."""
    rows = with_sums(days.filter(state__in=OPEN))
    ahead = rows.filter(day__gte=today).order_by("day", "id")[:most]
    return DayLists(list(ahead), list(rows.filter(day__lt=today).order_by("day", "id")[:most]))


def days_ahead(actor: Actor, project: Project | None, most: int = 20) -> list[CrewDay]:
    """Days still open of a project, or of them all, today's first: whose sheets a crew looks for."""
    days = access.visible_crew_days(actor).filter(
        state__in=OPEN, day__gte=clocks.today_of(actor.organisation)
    )
    days = days.filter(block__project=project) if project else days
    return list(days.select_related("block__site").order_by("day", "id")[:most])


def over_days(days: QuerySet[CrewDay]) -> QuerySet[CrewDay]:
    """Days closed or called off."""
    return with_sums(days.exclude(state__in=OPEN))


@dataclass(frozen=True)
class LotOnDay:
    """A lot of a day: how it stands, and what became of it that day. [plants]"""

    row: CrewDayLot
    on_hand: int
    gap: int
    clock: LotClock | None
    check: LotCheck | None
    elsewhere: int  # meant for other open days
    planted: int = 0
    moved: Sequence[LotMovement] = ()

    @property
    def accounted(self) -> int:
        return self.planted + sum(each.quantity for each in self.moved)

    @property
    def back(self) -> int | None:
        """What of it went back into the store: taken out, less what is told of; unknown where nobody counted."""
        return None if self.row.taken is None else self.row.taken - self.accounted


def lots_of(day: CrewDay) -> list[LotOnDay]:
    """The lots of a day with ledger, clock on that day and last look; a fixed number of queries."""
    rows = list(day.lots.select_related("lot__species", "replaces"))
    lots = [row.lot for row in rows]
    ledgers, clocks, checks = ledgers_of(lots), clocks_of(lots), last_checks(lots)
    others, planted = meant_elsewhere(day, lots), planted_of(day)
    moved: dict[int, list[LotMovement]] = {}
    for movement in movements_of(day):
        moved.setdefault(movement.lot_id, []).append(movement)
    return [
        LotOnDay(
            row, ledgers[row.lot_id].at_hand, ledgers[row.lot_id].gap,
            clocks.on(row.lot, day.day), checks.get(row.lot_id), others.get(row.lot_id, 0),
            planted.get(row.lot_id, 0), moved.get(row.lot_id, ()),
        )
        for row in rows
    ]  # fmt: skip


def last_checks(lots: Sequence[StockLot]) -> dict[int, LotCheck]:
    """The last look at each lot that still stands."""
    rows = LotCheck.objects.filter(lot__in=lots, voided_at__isnull=True).order_by("checked_at", "id")
    return {row.lot_id: row for row in rows}


def meant_elsewhere(day: CrewDay, lots: Sequence[StockLot]) -> dict[int, int]:
    """How many of each lot are meant for other days that are still open."""
    rows = CrewDayLot.objects.filter(lot__in=lots, crew_day__state__in=OPEN).exclude(crew_day=day)
    return dict(rows.order_by().values_list("lot_id").annotate(n=Sum("planned")))


def planted_of(day: CrewDay) -> dict[int, int]:
    """How many of each lot the day's closing says were planted."""
    rows = day.planting_days.filter(voided_at__isnull=True, lot__isnull=False)
    return dict(rows.order_by().values_list("lot_id").annotate(n=Sum("quantity")))


def going(day: CrewDay) -> list[CrewDayPerson]:
    """Who goes, with who looks after them."""
    return list(day.people.select_related("person", "buddy"))


# --- the morning ------------------------------------------------------------------------------
@dataclass(frozen=True)
class MorningRow:
    """What one rule said on the morning of a day."""

    when: str
    effect: str
    read: str
    state: str


@dataclass(frozen=True)
class Morning:
    """What was read on the morning of a day, as it was kept; `title` is the rules' answer."""

    title: str
    rows: Sequence[MorningRow] = field(default_factory=tuple)


def morning_of(day: CrewDay, units: str) -> Morning | None:
    """The readings a day was decided on with, in words; None before anybody decided."""
    kept = day.readings
    if kept.get("verdict") not in words.VERDICTS:
        return None
    return Morning(str(words.VERDICTS[kept["verdict"]]), [_morning_row(each, units) for each in kept["said"]])


def _morning_row(said: Mapping, units: str) -> MorningRow:
    rule = DayRule(**{name: said[name] for name in ("measure", "side", "limit", "effect", "words")})
    reading = said["reading"]
    is_number = reading is not None and not isinstance(reading, bool)
    read = words.amount(said["measure"], reading, units) if is_number else ""
    return MorningRow(words.when(rule, units), str(words.EFFECTS[said["effect"]]), read, said["state"])


# --- the block's log --------------------------------------------------------------------------
@dataclass(frozen=True)
class LogOfLot:
    """What was planted of one lot in a block, day by day; days taken back are left out of the sum."""

    lot: StockLot | None
    days: Sequence[PlantingDay]

    @property
    def planted(self) -> int:
        return sum(day.quantity for day in self.days if day.voided_at is None)


def planting_log(actor: Actor, block: Block) -> list[LogOfLot]:
    """A block's planting days, lot by lot."""
    rows = access.visible_planting_days(actor).filter(block=block)
    rows = rows.select_related("lot__species", "cohort__replaces", "cohort__season", "crew_day")
    by_lot: dict[int | None, list[PlantingDay]] = {}
    for row in rows.order_by(F("lot__code").asc(nulls_last=True), "planted_on", "id"):
        by_lot.setdefault(row.lot_id, []).append(row)
    return [LogOfLot(days[0].lot, days) for days in by_lot.values()]

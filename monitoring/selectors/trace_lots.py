"""How lots came: how long they waited, what was seen where they changed hands, and what had been ordered."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import Q, Sum

from monitoring import access, trace_words
from monitoring.calc.standing_out import Check, Handling, of_lot
from monitoring.models import PerformanceRow
from monitoring.selectors.compare import Peer, keys_of, peer_of
from monitoring.selectors.headlines import subjects
from monitoring.selectors.panels import Point, latest, points, read
from projects.access import Actor, visible_lot_checks, visible_lots, visible_orders
from projects.clocks import zone
from projects.models import (
    LotCheck,
    LotMovement,
    MovementKind,
    OrderLine,
    OrderStatus,
    PlantingDay,
    StockLot,
    StockOrder,
)
from projects.selectors.ledgers import Clocks, Waited, clocks_of
from projects.selectors.lot_family import Family, Step, family

MOST_LOTS = 60
Kin = dict[int, list[tuple[StockLot, int]]]  # lot id -> (other lot, plants that went over)


@dataclass(frozen=True)
class LotCame:
    """One lot with all that is known of how it came."""

    lot: StockLot
    waited: Waited | None
    checks: list[LotCheck]
    order: StockOrder | None
    line: OrderLine | None
    handling: Handling
    point: Point | None  # its own figure, as last counted
    peer: Peer | None  # against its peers in the same blocks
    parents: list[tuple[StockLot, int]] = field(default_factory=list)
    children: list[tuple[StockLot, int]] = field(default_factory=list)
    culled: list[LotMovement] = field(default_factory=list)
    is_planted: bool = True

    @property
    def days_late(self) -> int | None:
        return self.handling.days_late

    @property
    def stands_out(self) -> list[str]:
        """What is unusual about it, a sentence each."""
        return [trace_words.stands_out(found, self.lot.stock_type) for found in of_lot(self.handling)]

    @property
    def is_timeless(self) -> bool:
        """Planted, of a kind that cannot wait, and nobody wrote down since when it waited."""
        return self.is_planted and self.handling.limit is not None and self.waited is None


def lots_that_came(actor: Actor, days: Iterable[PlantingDay], also: Q | None = None) -> list[LotCame]:
    """Read the lots of some planting days, each as it waited for those days, and others asked for.

    The number of queries is fixed.
    """
    planted_on: dict[int, list[date]] = defaultdict(list)
    for day in days:
        if day.lot_id is not None:
            planted_on[day.lot_id].append(day.planted_on)
    related = (
        "species", "nursery", "delivery__order", "delivery__nursery", "order_line__species", "order_line__order",
        "seed_collection", "organisation",
    )  # fmt: skip
    wanted = Q(pk__in=list(planted_on)) | (also or Q(pk__in=[]))
    found_lots = StockLot.objects.filter(
        wanted, organisation=actor.organisation, pk__in=visible_lots(actor).values("pk")
    )
    rows = list(found_lots.select_related(*related).order_by("-received_on", "code")[:MOST_LOTS])
    ids = [lot.pk for lot in rows]
    kin = family(ids)
    clocks, checks, culled = clocks_of(rows), checks_of(actor, kin.ids), culled_of(ids)
    parents, children = kin_of(actor, ids, kin)
    orders, came = orders_of(actor, rows), came_for(rows)
    figures, peers = figures_of(actor, rows), peers_of(actor, rows)
    found = []
    for lot in rows:
        waited = clocks.waited(lot, planted_on.get(lot.pk, ()))
        order = orders.get(order_id(lot))
        line = lot.order_line if order else None
        found.append(
            LotCame(
                lot, waited, checks[lot.pk], order, line,
                handling_of(lot, clocks, waited, seen_before(lot, checks, kin), order, came),
                figures.get(str(lot.uid)), peers.get(str(lot.uid)), parents[lot.pk], children[lot.pk],
                culled[lot.pk], lot.pk in planted_on,
            )
        )  # fmt: skip
    return sorted(found, key=lambda one: (not one.stands_out, one.lot.received_on, one.lot.code))


def order_id(lot: StockLot) -> int | None:
    if lot.order_line is not None:
        return lot.order_line.order_id
    return lot.delivery.order_id if lot.delivery else None


def orders_of(actor: Actor, rows: Iterable[StockLot]) -> dict[int | None, StockOrder]:
    """The orders lots answer, those of projects the actor may not read left out."""
    found = visible_orders(actor).filter(pk__in={order_id(lot) for lot in rows} - {None})
    return {order.pk: order for order in found.select_related("nursery", "project")}


def came_for(rows: Iterable[StockLot]) -> dict[int | None, int]:
    """Plants that came for each order line, in all of its lots."""
    lines = {lot.order_line_id for lot in rows} - {None}
    sums = StockLot.objects.filter(order_line_id__in=lines).order_by().values("order_line_id")
    return dict(sums.annotate(n=Sum("received")).values_list("order_line_id", "n"))


def handling_of(
    lot: StockLot,
    clocks: Clocks,
    waited: Waited | None,
    checks: Iterable[LotCheck],
    order: StockOrder | None,
    came: Mapping[int | None, int],
) -> Handling:
    """What the rule of `standing_out` asks for."""
    line, wait = lot.order_line if order else None, clocks.wait(lot)
    is_over = order is not None and order.status == OrderStatus.CLOSED
    return Handling(
        stock_type=lot.stock_type,
        out=waited.out if waited else None,
        stored=waited.stored[1] if waited else 0,
        limit=wait.days if wait else None,
        limit_source=wait.source if wait else "",
        checks=tuple(told(check) for check in checks),
        days_late=days_late(lot, order),
        asked=line.quantity if line and is_over else None,
        received=came.get(lot.order_line_id) if line and is_over else None,
        asked_for=plants(line) if line else "",
        came=plants(lot),
    )


def told(check: LotCheck) -> Check:
    sample = None
    if check.sample_size and check.sample_bad is not None and check.accept_up_to is not None:
        sample = check.sample_size, check.sample_bad, check.accept_up_to
    return Check(check.point, check.root_condition, check.verdict, check.box_temperature_c, sample)


def days_late(lot: StockLot, order: StockOrder | None) -> int | None:
    """Days from the promised day, else the day it was needed, to the delivery; None where either is unknown."""
    due = (order.promised_on or order.needed_by) if order else None
    came = lot.delivery.delivered_on if lot.delivery else lot.received_on
    return (came - due).days if due else None


def plants(of: StockLot | OrderLine) -> str:
    return f"{of.species}, {of.get_stock_type_display()}"


# --- reads ----------------------------------------------------------------------------------------
def checks_of(actor: Actor, ids: Collection[int]) -> dict[int, list[LotCheck]]:
    """Looks at lots that stand, the latest first."""
    found: dict[int, list[LotCheck]] = defaultdict(list)
    rows = visible_lot_checks(actor).filter(lot_id__in=ids, voided_at__isnull=True)
    for check in rows.order_by("-checked_at", "-id"):
        found[check.lot_id].append(check)
    return found


def seen_before(lot: StockLot, checks: Mapping[int, list[LotCheck]], kin: Family) -> list[LotCheck]:
    """Looks at a lot, and at the lots its plants came over from while they were still there; the latest first."""
    found = {check.pk: check for check in checks.get(lot.pk, ())}
    here = zone(lot.organisation.time_zone)
    left: list[tuple[int, date]] = [(step.parent_id, step.moved_on) for step in kin.parents.get(lot.pk, ())]
    done: set[tuple[int, date]] = set()
    while left:
        pk, until = left.pop()
        if (pk, until) in done:
            continue
        done.add((pk, until))
        for check in checks.get(pk, ()):
            if check.checked_at.astimezone(here).date() <= until:
                found[check.pk] = check
        left += [
            (step.parent_id, step.moved_on) for step in kin.parents.get(pk, ()) if step.moved_on <= until
        ]
    return sorted(found.values(), key=lambda check: (check.checked_at, check.pk), reverse=True)


def culled_of(ids: Collection[int]) -> dict[int, list[LotMovement]]:
    found: dict[int, list[LotMovement]] = defaultdict(list)
    rows = LotMovement.objects.filter(lot_id__in=ids, kind=MovementKind.CULLED, voided_at__isnull=True)
    for row in rows:
        found[row.lot_id].append(row)
    return found


def kin_of(actor: Actor, ids: Collection[int], kin: Family) -> tuple[Kin, Kin]:
    """Lots that plants of these came over from, and those they went over to, one step each way."""
    lots = visible_lots(actor).filter(pk__in=kin.ids).in_bulk()

    def named(steps: Iterable[Step], end: str) -> list[tuple[StockLot, int]]:
        return [(lots[getattr(step, end)], step.quantity) for step in steps if getattr(step, end) in lots]

    parents = {pk: named(kin.parents.get(pk, ()), "parent_id") for pk in ids}
    children = {pk: named(kin.children.get(pk, ()), "child_id") for pk in ids}
    return parents, children


def figures_of(actor: Actor, rows: Iterable[StockLot]) -> dict[str, Point]:
    """The figure of each lot as last counted."""
    keys = [str(lot.uid) for lot in rows]
    found = latest(points(read(access.visible_estimates(actor).filter(scope="lot", key__in=keys))))
    return {point.line.key: point for point in found if point.line.survival is not None}


def peers_of(actor: Actor, rows: Iterable[StockLot]) -> dict[str, Peer]:
    """How each lot compared with its peers in the same blocks in the last round that could tell."""
    keys = [str(lot.uid) for lot in rows]
    order = ("round__season__starts_on", "round__opens_on", "round_id")
    held = access.visible_performance(actor).filter(scope="lot", key__in=keys)
    last: dict[str, PerformanceRow] = {
        row.key: row for row in held.select_related("round__project").order_by(*order)
    }
    names: dict[tuple[str, str], Any] = subjects(keys_of(last.values()))
    return {key: peer_of(row, names, row.round.project.min_plots_per_species) for key, row in last.items()}

"""How far orders have come: their lines against the lots that came, read for one order or for many."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from django.db.models import F, Q, QuerySet, Sum

from projects.calc.order_progress import (
    OPEN,
    Came,
    Kept,
    LineProgress,
    due_on,
    kept,
    line_progress,
    shared_out,
)
from projects.calc.substitution import ASK, NOT_ALLOWED, Fit, Listed, Sent, Wanted, fit
from projects.models import (
    LotMovement,
    MovementKind,
    OrderLine,
    Organisation,
    StockLot,
    StockOrder,
)


@dataclass(frozen=True)
class LotThatCame:
    """A lot that came against an order, and how it fits the line it came for; no fit where it names no line."""

    lot: StockLot
    fit: Fit | None

    @property
    def needs_a_word(self) -> bool:
        """Whether somebody must say if it may stand for what was asked."""
        return self.fit is not None and self.fit.verdict in (ASK, NOT_ALLOWED)

    @property
    def can_be_agreed(self) -> bool:
        """Whether agreeing would settle it: a provenance written otherwise is only ever looked into."""
        return self.needs_a_word and self.fit is not None and self.fit.differs != ("provenance",)


@dataclass(frozen=True)
class LineStanding:
    """An order line with how far it has come and the lots that came for it."""

    line: OrderLine
    progress: LineProgress
    lots: tuple[LotThatCame, ...]

    @property
    def cost_minor(self) -> int | None:
        """What was asked for, at its price."""
        price = self.line.unit_price_minor
        return None if price is None else price * self.line.quantity


@dataclass(frozen=True)
class OrderStanding:
    """An order with its lines, and the lots that came with it though no line asked for them."""

    order: StockOrder
    due_on: date | None
    lines: tuple[LineStanding, ...]
    unasked: tuple[StockLot, ...] = ()
    kept: Kept | None = None
    costs: tuple[tuple[str, int], ...] = field(default=())

    @property
    def asked(self) -> int:
        return sum(row.progress.asked for row in self.lines)

    @property
    def arrived(self) -> int:
        return sum(row.progress.arrived for row in self.lines)

    @property
    def to_come(self) -> int:
        return sum(row.progress.to_come for row in self.lines)

    @property
    def late_days(self) -> int:
        return max((row.progress.late_days for row in self.lines), default=0)

    @property
    def is_late(self) -> bool:
        return self.late_days > 0

    @property
    def has_all(self) -> bool:
        """Whether nothing is to come any more, so that the order may be closed."""
        return self.order.status in OPEN and self.to_come == 0

    @property
    def is_promise(self) -> bool:
        """Whether the nursery itself named the day."""
        return self.order.promised_on is not None


def with_lines(orders: QuerySet[StockOrder]) -> QuerySet[StockOrder]:
    """Orders with everything `standings_of` reads of them."""
    return orders.select_related("nursery", "project").prefetch_related(
        "lines__species", "lines__block__site", "lines__substitutes__species"
    )


def standing_of(order: StockOrder, today: date) -> OrderStanding:
    """Read how far one order has come."""
    return standings_of(with_lines(StockOrder.objects.filter(pk=order.pk)), today)[0]


def standings_of(orders: Iterable[StockOrder], today: date) -> list[OrderStanding]:
    """Read how far orders `with_lines` have come, in two queries beside theirs."""
    rows = list(orders)
    lots = _lots_of(rows)
    back = _sent_back([lot for found in lots.values() for lot in found])
    return [_standing(order, lots[order.pk], back, today) for order in rows]


def _lots_of(orders: list[StockOrder]) -> dict[int, list[StockLot]]:
    """Return {order id: lots that came against it}, by their line or by their delivery."""
    ids = [order.pk for order in orders]
    found: dict[int, list[StockLot]] = defaultdict(list)
    lots = StockLot.objects.filter(
        Q(order_line__order_id__in=ids) | Q(order_line__isnull=True, delivery__order_id__in=ids),
        received__gt=0,
    )
    for lot in lots.select_related("species", "order_line", "delivery").order_by("received_on", "id"):
        line, delivery = lot.order_line, lot.delivery
        order_id = line.order_id if line is not None else delivery.order_id if delivery is not None else None
        if order_id is not None:
            found[order_id].append(lot)
    return found


def _sent_back(lots: list[StockLot]) -> dict[int, int]:
    """Return {lot id: plants sent back}; what was split off before it went back is taken off the lots that came.

    A lot that was split off holds none of its own and names the line and delivery its plants came by. Put together
    from several lines it names none, and what goes back of it is nobody's here.
    """
    came = {lot.pk: lot for lot in lots}
    split_off = Q(lot__received=0) & (
        Q(lot__order_line__in={lot.order_line_id for lot in lots} - {None})
        | Q(lot__order_line__isnull=True, lot__delivery__in={lot.delivery_id for lot in lots} - {None})
    )
    rows = LotMovement.objects.filter(
        Q(lot__in=list(came)) | split_off, kind=MovementKind.RETURNED, voided_at__isnull=True
    ).order_by()
    back: dict[int, int] = defaultdict(int)
    loose: dict[tuple[int | None, int | None], int] = defaultdict(int)
    for lot_id, line, delivery, plants in rows.values_list(
        "lot_id", "lot__order_line_id", "lot__delivery_id"
    ).annotate(plants=Sum("quantity")):
        if lot_id in came:
            back[lot_id] += plants
        else:
            loose[_came_by(line, delivery)] += plants
    for lot in reversed(lots):
        key = _came_by(lot.order_line_id, lot.delivery_id)
        taken = min(loose[key], max(0, lot.received - back[lot.pk]))
        back[lot.pk] += taken
        loose[key] -= taken
    return back


def _came_by(line: int | None, delivery: int | None) -> tuple[int | None, int | None]:
    return (line, None) if line is not None else (None, delivery)


def _standing(order: StockOrder, lots: list[StockLot], back: dict[int, int], today: date) -> OrderStanding:
    lines, due = list(order.lines.all()), due_on(order.promised_on, order.needed_by)
    came: dict[int, list[Came]] = {line.pk: [] for line in lines}
    shown: dict[int, list[LotThatCame]] = {line.pk: [] for line in lines}
    loose, unasked = defaultdict(list), []
    kinds = {(line.species_id, line.stock_type) for line in lines}
    for lot in lots:
        part = Came(lot.received_on, lot.received, min(lot.received, back.get(lot.pk, 0)))
        if lot.order_line_id in came:
            came[lot.order_line_id].append(part)
        elif (lot.species_id, lot.stock_type) in kinds:
            loose[lot.species_id, lot.stock_type].append((lot, part))
        else:
            unasked.append(lot)
    for kind, parts in loose.items():
        _spread(kind, parts, lines, came, shown)
    for lot in lots:
        if lot.order_line_id in came:
            line = next(line for line in lines if line.pk == lot.order_line_id)
            shown[line.pk].append(LotThatCame(lot, fit(wanted(line), sent(lot))))
    found = tuple(
        LineStanding(
            line,
            line_progress(
                line.quantity,
                line.confirmed_quantity,
                came[line.pk],
                status=order.status,
                due=due,
                today=today,
            ),
            tuple(shown[line.pk]),
        )
        for line in lines
    )
    held = kept([row.progress for row in found], status=order.status, due=due, today=today)
    return OrderStanding(order, due, found, tuple(unasked), held, _costs(found))


def _spread(
    kind: tuple[int, str],
    parts: list[tuple[StockLot, Came]],
    lines: list[OrderLine],
    came: dict[int, list[Came]],
    shown: dict[int, list[LotThatCame]],
) -> None:
    """Share lots that name no line over the lines of their species and stock type, as far as these still want any."""
    mine = [line for line in lines if (line.species_id, line.stock_type) == kind]
    room = {
        line.pk: (line.quantity if line.confirmed_quantity is None else line.confirmed_quantity)
        - sum(part.kept for part in came[line.pk])
        for line in mine
    }
    for pk, found in shared_out([part for _lot, part in parts], room).items():
        came[pk] += found
    shown[mine[0].pk] += [LotThatCame(lot, None) for lot, _part in parts]


def _costs(lines: Iterable[LineStanding]) -> tuple[tuple[str, int], ...]:
    """What the lines with a price cost, by currency."""
    sums: dict[str, int] = defaultdict(int)
    for row in lines:
        if row.cost_minor is not None:
            sums[row.line.currency] += row.cost_minor
    return tuple(sorted(sums.items()))


def wanted(line: OrderLine) -> Wanted:
    """What a line asks for, as the rule of substitution reads it."""
    listed = tuple(Listed(row.species_id, row.stock_type, row.rank) for row in line.substitutes.all())
    return Wanted(line.species_id, line.stock_type, line.age_code, line.provenance, line.substitution, listed)


def sent(lot: StockLot) -> Sent:
    """What a lot is, as the rule of substitution reads it."""
    return Sent(lot.species_id, lot.stock_type, lot.age_code, lot.provenance)


def late_orders(organisation: Organisation, today: date) -> list[OrderStanding]:
    """Return placed and confirmed orders past the day promised (else needed) with something still to come.

    The longest overdue first. Each says `order`, `due_on`, `is_promise`, `late_days`, `to_come`, and by line
    `lines[…].progress.to_come`.
    """
    orders = StockOrder.objects.filter(
        Q(promised_on__lt=today) | Q(promised_on__isnull=True, needed_by__lt=today)
    )
    orders = orders.filter(organisation=organisation, status__in=OPEN)
    orders = orders.order_by(F("promised_on").asc(nulls_last=True), "needed_by", "id")
    late = [row for row in standings_of(with_lines(orders), today) if row.is_late]
    return sorted(late, key=lambda row: (-row.late_days, row.order.pk))

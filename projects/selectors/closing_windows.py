"""Planting windows that close soon while something meant for their block is not planted yet."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Sum

from projects.models import (
    LotMovement,
    MixLine,
    MovementKind,
    OrderLine,
    OrderStatus,
    Organisation,
    Plan,
    PlantingDay,
    PlantingWindow,
    Season,
    StockLot,
)
from projects.selectors.ledgers import ledgers_of
from projects.selectors.season_windows import later
from projects.services.windows import COMES_ROUND

Place = tuple[int, str]  # block id, stock type


@dataclass(frozen=True)
class ClosingWindow:
    """A window with what waits to be planted in it: by the plan, on order, and on hand."""

    window: PlantingWindow
    planned: int
    ordered: int
    on_hand: int

    @property
    def is_waited_for(self) -> bool:
        """Whether anything is still to go in."""
        return bool(self.planned or self.ordered or self.on_hand)


def closing_windows(organisation: Organisation, today: date, within: timedelta) -> list[ClosingWindow]:
    """Windows of blocks in use that close from today on, and within so many days, with something left to plant.

    Stock counts for the block its order line names; a lot that no order line ties to a block is nobody's here.
    """
    rows = PlantingWindow.objects.filter(
        organisation=organisation, block__archived_at__isnull=True, block__project__archived_at__isnull=True
    ).select_related("block")
    near = [found for row in rows if (found := _this_time(row, today, today + within)) is not None]
    if not near:
        return []
    block_ids = sorted({row.block_id for row in near})
    lines = _planned_lines(organisation, block_ids)
    ordered, on_hand = _ordered(organisation, block_ids), _on_hand(organisation, block_ids)
    planted = _planted(organisation, block_ids)
    found = [
        ClosingWindow(
            window,
            _planned_left(window, lines, planted),
            ordered.get((window.block_id, window.stock_type), 0),
            on_hand.get((window.block_id, window.stock_type), 0),
        )
        for window in near
    ]
    return [each for each in found if each.is_waited_for]


def _this_time(window: PlantingWindow, today: date, last: date) -> PlantingWindow | None:
    """The window as it closes within these days; one worked out from the climate comes round every year."""
    if window.source not in COMES_ROUND:
        return window if today <= window.closes_on <= last else None
    for year in (today.year, last.year):
        closes_on = later(window.closes_on, year - window.closes_on.year)
        if today <= closes_on <= last:
            moved = copy(window)
            moved.opens_on, moved.closes_on = (
                later(window.opens_on, year - window.closes_on.year),
                closes_on,
            )
            return moved
    return None


def _planned_lines(organisation: Organisation, block_ids: Sequence[int]) -> list[MixLine]:
    """Lines of each project's latest approved plan."""
    plans = Plan.objects.filter(organisation=organisation, approved_at__isnull=False)
    latest = {plan.project_id: plan.pk for plan in plans.order_by("version")}
    rows = MixLine.objects.filter(plan_id__in=list(latest.values()), block_id__in=block_ids)
    return list(rows.select_related("plan__season", "plan__second_season"))


def _planned_left(
    window: PlantingWindow, lines: Iterable[MixLine], planted: dict[Place, list[tuple[date, int]]]
) -> int:
    """What the plan puts into this window and was not planted since its season began."""
    wanted, since = 0, window.opens_on
    for line in lines:
        if (line.block_id, line.stock_type) != (window.block_id, window.stock_type):
            continue
        season = line.plan.season if line.wave == 1 else line.plan.second_season
        if _is_meant_for(line, season, window):
            wanted += line.quantity
            since = min(since, season.starts_on) if season else since
    done = sum(n for day, n in planted.get((window.block_id, window.stock_type), []) if day >= since)
    return max(0, wanted - done)


def _is_meant_for(line: MixLine, season: Season | None, window: PlantingWindow) -> bool:
    if season is None:
        return line.wave == 1
    return window.opens_on <= season.ends_on and season.starts_on <= window.closes_on


def _planted(organisation: Organisation, block_ids: Sequence[int]) -> dict[Place, list[tuple[date, int]]]:
    rows = PlantingDay.objects.filter(
        organisation=organisation, block_id__in=block_ids, voided_at__isnull=True
    )
    found: dict[Place, list[tuple[date, int]]] = defaultdict(list)
    for block_id, stock_type, day, quantity in rows.order_by().values_list(
        "block_id", "cohort__stock_type", "planted_on", "quantity"
    ):
        found[block_id, stock_type].append((day, quantity))
    return found


def _ordered(organisation: Organisation, block_ids: Sequence[int]) -> dict[Place, int]:
    """What is on order for each place and has not come, or went back to the nursery."""
    rows = OrderLine.objects.filter(
        organisation=organisation, block_id__in=block_ids,
        order__status__in=(OrderStatus.PLACED, OrderStatus.CONFIRMED),
    ).annotate(came=Sum("lots__received", default=0))  # fmt: skip
    returns = LotMovement.objects.filter(
        lot__order_line__in=[line.pk for line in rows], kind=MovementKind.RETURNED, voided_at__isnull=True
    )
    back = dict(returns.order_by().values_list("lot__order_line").annotate(plants=Sum("quantity")))
    found: dict[Place, int] = defaultdict(int)
    for line in rows:
        asked = line.quantity if line.confirmed_quantity is None else line.confirmed_quantity
        came = max(0, (line.came or 0) - back.get(line.pk, 0))
        found[line.block_id, line.stock_type] += max(0, asked - came)
    return found


def _on_hand(organisation: Organisation, block_ids: Sequence[int]) -> dict[Place, int]:
    rows = StockLot.objects.filter(organisation=organisation, order_line__block_id__in=block_ids).current()
    lots = list(rows.select_related("order_line"))
    ledgers = ledgers_of(lots)
    found: dict[Place, int] = defaultdict(int)
    for lot in lots:
        if lot.order_line is not None:
            found[lot.order_line.block_id, lot.stock_type] += max(0, ledgers[lot.pk].at_hand)
    return found

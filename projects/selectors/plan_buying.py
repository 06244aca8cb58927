"""What a plan has to order: of whom, how many, at what price, and the last day to do it."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from projects.calc.assured_quantity import shared_out, to_order
from projects.calc.buying import Bought, Seller, buy
from projects.calc.deliveries import order_by
from projects.models import (
    MixLine,
    OrderLine,
    OrderStatus,
    PlantingWindow,
    Season,
    StockOffer,
    StockOrder,
    Unit,
)
from projects.selectors.plans import PlanFrame
from projects.selectors.season_windows import come_round

TOLD = (OrderStatus.PLACED, OrderStatus.CONFIRMED, OrderStatus.CLOSED)  # orders a nursery was told of

MOST_SELLERS = 8  # of one kind; the cheapest are looked at
A_YEAR = timedelta(days=365)


@dataclass(frozen=True)
class Days:
    """When a line may go into the ground; `is_season` where only the season says so."""

    opens_on: date
    closes_on: date
    is_season: bool = False


@dataclass(frozen=True)
class Part:
    """What one seller gives of a kind, or what nobody has (`offer` None)."""

    offer: StockOffer | None
    quantity: int
    order_by: date | None

    @property
    def cost_minor(self) -> int | None:
        return None if self.offer is None else self.offer.unit_price_minor * self.quantity


@dataclass(frozen=True)
class ToBuy:
    """Everything of one species, stock type and wave.

    Attributes
    ----------
    planted, ordered : plants for the ground; plants to ask for, culls and handling losses added.
    first_day : the first day any of it is planted.
    parts : of whom; `surplus` plants come only because a seller sells no fewer.
    last_day : the last day any of it may go in.
    ways_out : where the last day to order has passed, offers of the species in any stock that come before
        `last_day` if ordered today, with the day they come.
    next_year : last day to order for the same days a year on.
    elsewhere : offers in other currencies, not compared.
    """

    lines: Sequence[MixLine]
    planted: int
    ordered: int
    first_day: date | None
    parts: Sequence[Part]
    surplus: int = 0
    last_day: date | None = None
    ways_out: Sequence[tuple[StockOffer, date]] = ()
    next_year: date | None = None
    elsewhere: int = 0

    @property
    def line(self) -> MixLine:
        """One line of it, for its species, stock type and wave."""
        return self.lines[0]

    @property
    def order_by(self) -> date | None:
        """The earliest of its sellers' last days."""
        return min((part.order_by for part in self.parts if part.order_by), default=None)

    @property
    def missing(self) -> int:
        """Plants nobody is known to have."""
        return sum(part.quantity for part in self.parts if part.offer is None)


def days_of_lines(frame: PlanFrame, today: date) -> dict[int, Days | None]:
    """When each line may go in: the first window of its block and stock within its season; one query.

    A second wave goes in years later: without a season of its own nothing is known of its days.
    """
    ids = [each.block.pk for each in frame.used]
    windows: dict[tuple[int, str], list[PlantingWindow]] = {}
    for window in PlantingWindow.objects.filter(block_id__in=ids).order_by("opens_on", "closes_on", "id"):
        windows.setdefault((window.block_id, window.stock_type), []).append(window)
    seasons = {1: frame.plan.season, 2: frame.plan.second_season}
    return {
        line.pk: days_of(
            come_round(windows.get((line.block_id, line.stock_type), []), [seasons[line.wave]]),
            seasons[line.wave],
            today,
        )
        if line.wave == 1 or seasons[2]
        else None
        for line in frame.lines
    }


def days_of(windows: Iterable[PlantingWindow], season: Season | None, today: date) -> Days | None:
    """The first window that is not over and lies in the season; without any, what is left of the season."""
    for window in windows:
        opens, closes = window.opens_on, window.closes_on
        if season is not None:
            opens, closes = max(opens, season.starts_on), min(closes, season.ends_on)
        if opens <= closes and closes >= today:
            return Days(opens, closes)
    if season is None or season.ends_on < today:
        return None
    return Days(season.starts_on, season.ends_on, is_season=True)


def to_buy(
    frame: PlanFrame, days: Mapping[int, Days | None], offers: Sequence[StockOffer], today: date
) -> list[ToBuy]:
    """Group the plan's lines by species, stock type and wave and find sellers; pure arithmetic on what was read."""
    groups: dict[tuple[int, str, int], list[MixLine]] = {}
    for line in frame.lines:
        groups.setdefault((line.wave, line.stock_type, line.species_id), []).append(line)
    on_sale = OnSale(offers, frame.plan.project.currency)
    rows = [_row(frame, lines, days, on_sale, today) for lines in groups.values()]
    return sorted(rows, key=lambda row: (row.line.wave, row.order_by or date.max, str(row.line.species)))


def has_enough(seller: Seller) -> bool:
    """Whether a seller still has as many as it sells at least."""
    return seller.there_are is None or seller.there_are >= max(seller.fewest, 1)


class OnSale:
    """Offers by kind, and what is left of each as the plan takes its share."""

    def __init__(self, offers: Sequence[StockOffer], currency: str) -> None:
        self.offers, self.currency = offers, currency
        self.taken: dict[int, int] = {}

    def of(self, line: MixLine) -> list[StockOffer]:
        """Offers of a line's species and stock in the project's currency, the cheapest first."""
        return [offer for offer in self._kind(line) if offer.currency == self.currency][:MOST_SELLERS]

    def elsewhere(self, line: MixLine) -> int:
        return sum(offer.currency != self.currency for offer in self._kind(line))

    def _kind(self, line: MixLine) -> list[StockOffer]:
        """Seed sold by weight is not counted in plants, so it is left out."""
        return [
            offer
            for offer in self.offers
            if (offer.species_id, offer.stock_type) == (line.species_id, line.stock_type)
            and offer.unit != Unit.SEED_AREA
        ]

    def buy(self, wanted: int, offers: Sequence[StockOffer]) -> Bought:
        """Take from the cheapest; a second wave finds what the first left."""
        sellers = [Seller(row.unit_price_minor, self._left(row), row.least_quantity or 0) for row in offers]
        open_to = [n for n, each in enumerate(sellers) if has_enough(each)]
        found = buy(wanted, [sellers[n] for n in open_to])
        quantities = [0] * len(offers)
        for n, quantity in zip(open_to, found.quantities, strict=True):
            quantities[n] = quantity
            self.taken[offers[n].pk] = self.taken.get(offers[n].pk, 0) + quantity
        return Bought(tuple(quantities), found.missing, found.surplus)

    def _left(self, offer: StockOffer) -> int | None:
        return None if offer.on_offer is None else max(offer.on_offer - self.taken.get(offer.pk, 0), 0)

    def in_time(self, line: MixLine, last_day: date, today: date) -> list[tuple[StockOffer, date]]:
        """Offers of the species that come before the last day if ordered today, the quickest first."""
        rows = [
            (offer, today + timedelta(weeks=offer.weeks_to_wait))
            for offer in self.offers
            if offer.species_id == line.species_id and offer.unit != Unit.SEED_AREA
        ]
        found = [(offer, comes) for offer, comes in rows if comes <= last_day]
        return sorted(found, key=lambda row: (row[1], row[0].unit_price_minor, row[0].pk))


def _row(
    frame: PlanFrame, lines: Sequence[MixLine], days: Mapping[int, Days | None], on_sale: OnSale, today: date
) -> ToBuy:
    plan, line = frame.plan, lines[0]
    planted = sum(each.quantity for each in lines)
    wanted = to_order(planted, plan.cull_share, plan.handling_loss_share)
    first_day = min((found.opens_on for each in lines if (found := days[each.pk])), default=None)
    offers = on_sale.of(line)
    bought = on_sale.buy(wanted, offers)

    def last_order(offer: StockOffer) -> date | None:
        return None if first_day is None else order_by(first_day, offer.weeks_to_wait, plan.slack_weeks)

    parts = [
        Part(offer, number, last_order(offer))
        for offer, number in zip(offers, bought.quantities, strict=True)
        if number
    ]
    if bought.missing:
        parts.append(Part(None, bought.missing, None))
    last = max((found.closes_on for each in lines if (found := days[each.pk])), default=None)
    row = ToBuy(
        lines, planted, wanted, first_day, parts, bought.surplus, last, elsewhere=on_sale.elsewhere(line)
    )  # fmt: skip
    if last is None or row.order_by is None or row.order_by >= today:
        return row
    return replace(row, ways_out=on_sale.in_time(line, last, today)[:3], next_year=row.order_by + A_YEAR)


def by_block(row: ToBuy, part: Part) -> list[tuple[MixLine, int]]:
    """A part shared out over the blocks it is for, by what is planted in each."""
    numbers = shared_out(part.quantity, [line.quantity for line in row.lines])
    return [(line, number) for line, number in zip(row.lines, numbers, strict=True) if number]


def orders_of_plan(plan_uid: str, project_id: int) -> list[StockOrder]:
    """Orders drafted from a plan that were not called off, the oldest first; one query."""
    rows = StockOrder.objects.filter(project_id=project_id, copied_figures__plan=plan_uid)
    return list(rows.exclude(status="cancelled").select_related("nursery").order_by("id"))


def placed_of_plan(plan_uid: str, project_id: int) -> dict[tuple[int, str, int], int]:
    """Return {(species, stock type, wave): plants} of a plan's orders that nurseries were told of; one query."""
    lines = OrderLine.objects.filter(
        order__project_id=project_id, order__copied_figures__plan=plan_uid, order__status__in=TOLD
    )
    found: dict[tuple[int, str, int], int] = defaultdict(int)
    for line in lines.select_related("order"):
        found[line.species_id, line.stock_type, line.order.copied_figures.get("wave", 1)] += line.quantity
    return found

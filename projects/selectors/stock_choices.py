"""Stock types of one species for one block, side by side: price, survival, cost of a living tree, and handling."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from projects import figures
from projects.calc.first_water import FirstWater, first_water
from projects.calc.stock_cost import LivingCost, cost_per_living
from projects.models import Block, StockOffer, StockType, Unit
from projects.selectors.foreseen_survival import ForeseenSurvival, foreseen_survival
from projects.selectors.offers import cheapest, current_offers
from projects.stock_words import FACTS, StockFacts
from species.models import Species


@dataclass(frozen=True)
class Wishes:
    """What the reader gave: money for a person's day in minor units, trees a day and calliper by stock type."""

    day_cost_minor: int | None
    rates: Mapping[str, int]
    callipers_cm: Mapping[str, float]
    weeks: float


@dataclass(frozen=True)
class StockChoice:
    """One stock type.

    Attributes
    ----------
    offer : the cheapest price in the project's currency, else in another; None where nobody sells it.
    planting_minor : planting one tree, where a day's cost was given. [minor units]
    cost : of one living tree, in minor units; None without a price in the project's currency or a survival.
    is_elsewhere : priced in another currency only, which is compared with nothing.
    window_days : days still open in the windows written down; `next_window` is the first. [days]
    """

    stock_type: str
    label: str
    facts: StockFacts
    survival: ForeseenSurvival
    offer: StockOffer | None
    rate: int
    planting_minor: float | None
    cost: LivingCost | None
    water: FirstWater | None
    calliper_cm: float | None
    window_days: int
    next_window: tuple[date, date] | None
    is_elsewhere: bool = False

    @property
    def window_words(self) -> str:
        """The next window as a span of days."""
        return figures.span(*self.next_window) if self.next_window else ""

    @property
    def bar(self) -> dict[str, float]:
        """Survival for an interval bar."""
        return {"value": self.survival.mean, "lower": self.survival.low, "upper": self.survival.high}


def stock_choices(block: Block, species: Species, wishes: Wishes, today: date) -> list[StockChoice]:
    """Every stock type, the cheapest living tree first, those without a figure last; a fixed number of queries."""
    project = block.project
    offers = [row for row in current_offers(block.organisation, today) if row.species_id == species.pk]
    prices = cheapest([row for row in offers if row.unit != Unit.SEED_AREA], project.currency)
    survival = foreseen_survival(project, [(species.pk, name) for name in StockType.values])
    windows = windows_of(block, today)
    rows = [
        _choice(
            name, str(label), survival[species.pk, name], prices.get((species.pk, name)),
            windows.get(name, []), wishes, today, project.currency,
        )
        for name, label in StockType.choices
    ]  # fmt: skip
    return sorted(rows, key=lambda row: (row.cost is None, row.cost.expected or 0 if row.cost else 0))


def windows_of(block: Block, today: date) -> dict[str, list[tuple[date, date]]]:
    """Windows of the block that are not over, by stock type, the next first."""
    found: dict[str, list[tuple[date, date]]] = {}
    rows = block.planting_windows.filter(closes_on__gte=today).order_by("opens_on", "closes_on")
    for stock_type, opens, closes in rows.values_list("stock_type", "opens_on", "closes_on"):
        found.setdefault(stock_type, []).append((opens, closes))
    return found


def _choice(
    name: str,
    label: str,
    found: ForeseenSurvival,
    offer: StockOffer | None,
    windows: Sequence[tuple[date, date]],
    wishes: Wishes,
    today: date,
    currency: str,
) -> StockChoice:
    facts = FACTS[name]
    rate = wishes.rates.get(name) or facts.rate
    planting = None if wishes.day_cost_minor is None else wishes.day_cost_minor / rate
    cost = None
    is_elsewhere = offer is not None and offer.currency != currency
    if offer is not None and not is_elsewhere and not found.is_missing:
        low, high = min(found.low, found.mean), max(found.high, found.mean)
        cost = cost_per_living(offer.unit_price_minor + (planting or 0), found.mean, low, high)
    calliper = wishes.callipers_cm.get(name) or facts.calliper_cm
    water = first_water(calliper, wishes.weeks) if calliper else None
    return StockChoice(
        name, label, facts, found, offer, rate, planting, cost, water, calliper,
        open_days(windows, today), windows[0] if windows else None, is_elsewhere,
    )  # fmt: skip


def open_days(windows: Sequence[tuple[date, date]], today: date) -> int:
    """Days from today in any of the windows; days of two windows are counted once."""
    days: set[int] = set()
    for opens, closes in windows:
        days.update(range(max(opens, today).toordinal(), closes.toordinal() + 1))
    return len(days)


def is_cheapest_for_sure(rows: Sequence[StockChoice]) -> bool:
    """Whether the first row's dearest living tree costs less than the cheapest of every other."""
    priced = [row for row in rows if row.cost is not None]
    if len(priced) < 2 or any(row.is_elsewhere for row in rows):
        return False
    first, *others = priced
    most = first.cost.most if first.cost else None
    return most is not None and all(
        row.cost and row.cost.least is not None and most < row.cost.least for row in others
    )

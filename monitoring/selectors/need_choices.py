"""What can be done about a shortfall, with what it costs and by when: as the need page shows it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.utils.dateparse import parse_date

from monitoring.estimators.replacement import cost_per_living_tree
from monitoring.models import ReplacementNeed

Price = tuple[int, str]  # minor units, currency
LEAST_SURVIVAL = 0.01  # below it a cost for each living tree has no upper limit worth printing


@dataclass(frozen=True)
class Choice:
    """Plant one stock: how many, what survival is foreseen, what that costs, when."""

    facts: Mapping[str, Any]
    price: Price | None = None
    is_same: bool = False  # the stock planted before

    @property
    def stock_type(self) -> str:
        return self.facts["stock_type"]

    @property
    def survival(self) -> dict[str, Any]:
        """The survival of one planting with its limits, as a figure."""
        return {**self.facts["survival"], "measure": "survival"}

    @property
    def cost(self) -> int | None:
        """Of the assured number, in minor units."""
        return None if self.price is None else self.facts["n_assured"] * self.price[0]

    @property
    def currency(self) -> str:
        return self.price[1] if self.price else ""

    @property
    def per_living(self) -> int | None:
        """Cost of a tree alive at the check, in minor units."""
        return self._per_living("value")

    @property
    def per_living_least(self) -> int | None:
        return self._per_living("upper")

    @property
    def per_living_most(self) -> int | None:
        return self._per_living("lower")

    def _per_living(self, name: str) -> int | None:
        share = self.survival[name]
        if self.price is None or share is None or share < LEAST_SURVIVAL:
            return None
        return round(cost_per_living_tree(self.price[0], share))

    @property
    def opens_on(self) -> date | None:
        return parse_date(self.facts["opens_on"] or "")

    @property
    def closes_on(self) -> date | None:
        return parse_date(self.facts["closes_on"] or "")

    @property
    def order_by(self) -> date | None:
        return parse_date(self.facts["order_by"] or "")

    @property
    def missed(self) -> tuple[date | None, ...]:
        """The window it is too late to order for; empty where there is none."""
        return tuple(parse_date(day) for day in self.facts["missed"] or ())


@dataclass(frozen=True)
class Choices:
    """All choices for one need; `accept` is to plant nothing."""

    need: ReplacementNeed
    stocks: list[Choice] = field(default_factory=list)
    accept: Mapping[str, Any] | None = None

    @property
    def same(self) -> Choice | None:
        return self.stocks[0] if self.stocks else None

    @property
    def others(self) -> list[Choice]:
        return self.stocks[1:]

    @property
    def accepted(self) -> dict[str, Any] | None:
        """Trees alive at the check if nothing is planted, as a figure."""
        if not self.accept or self.accept["living"] is None:
            return None
        return {
            "value": self.accept["living"], "lower": self.accept["lower"], "upper": self.accept["upper"],
            "measure": "trees",
        }  # fmt: skip


def choices_of(need: ReplacementNeed, prices: Mapping[tuple[int, str], Price]) -> Choices:
    """Read the choices of a need; a need of a whole block has no price, since its species differ."""
    stocks = []
    for position, facts in enumerate(need.facts.get("choices", ())):
        price = prices.get((need.species_id, facts["stock_type"])) if need.species_id else None
        stocks.append(Choice(facts, price, position == 0))
    return Choices(need, stocks, need.facts.get("accept"))

"""What to order, and by when: needs by block with their species, prices, orders already made and signs of loss."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import F

from monitoring import access
from monitoring.models import Estimate, LossCause, ReplacementNeed
from monitoring.selectors.headlines import headlines
from monitoring.selectors.loss_causes import Causes, standing
from monitoring.selectors.need_choices import Choices, Price, choices_of
from monitoring.selectors.stocking_gaps import Gaps, gaps_of
from projects import clocks
from projects.access import Actor
from projects.models import Block, OrderStatus, Project, StockLot, StockOrder

MOST_BLOCKS = 200
FEW_PLANTINGS = 4
OPEN_ORDERS = (OrderStatus.DRAFT, OrderStatus.PLACED, OrderStatus.CONFIRMED)


@dataclass(frozen=True)
class NeedRow:
    """One need beside what it would cost."""

    need: ReplacementNeed
    choices: Choices
    survival: Estimate | None = None
    price: Price | None = None

    @property
    def cost_expected(self) -> int | None:
        return self._cost(self.need.n_expected)

    @property
    def cost_assured(self) -> int | None:
        return self._cost(self.need.n_assured)

    @property
    def currency(self) -> str:
        return self.price[1] if self.price else ""

    @property
    def reckoned(self) -> dict[str, Any] | None:
        """Survival foreseen of one planting, with its limits, as a figure."""
        told = self.need.facts.get("survival")
        return {**told, "measure": "survival"} if told else None

    @property
    def is_before_check(self) -> bool:
        """The check is still to come, so that deaths until then are reckoned with."""
        carry = self.need.facts.get("carry") or {}
        return carry.get("age_days") is not None and carry["age_days"] < carry["check_days"]

    @property
    def rests_on_few(self) -> bool:
        """So few plantings were seen that what they did tells little of the next one."""
        told = self.reckoned
        return self.need.status == "ok" and told is not None and told["n_plantings"] < FEW_PLANTINGS

    @property
    def n_saved(self) -> int:
        """Trees that knowing the living exactly would save."""
        return max((self.need.n_assured or 0) - (self.need.n_assured_if_known or 0), 0)

    def _cost(self, trees: int | None) -> int | None:
        return None if self.price is None or trees is None else trees * self.price[0]

    @property
    def losses(self) -> list[tuple[str, int, float]]:
        """Signs seen on what was lost with their share of all signs, the most frequent first."""
        total = sum(self.need.losses.values())
        rows = sorted(self.need.losses.items(), key=lambda item: (-item[1], item[0]))
        return [(sign, seen, seen / total) for sign, seen in rows if seen]


@dataclass(frozen=True)
class BlockNeeds:
    """A block that was counted: what it needs in all and by species, and the order made for it."""

    block: Block
    project: Project
    whole: NeedRow | None
    species: list[NeedRow]
    if_found: Estimate | None
    order: StockOrder | None
    ordered: int
    today: date
    gaps: Gaps | None = None
    causes: Causes = field(default_factory=Causes)

    @property
    def dead_stems(self) -> int:
        """Dead stems seen in the plots, on which the signs rest."""
        return self.survival.facts.get("dead_stem", 0) if self.survival else 0

    @property
    def lost_much(self) -> bool:
        """Fewer live than the target asks, so that what killed the others should be known."""
        value = self.survival.value if self.survival else None
        return value is not None and value < float(self.project.target_survival)

    @property
    def survival(self) -> Estimate | None:
        return self.whole.survival if self.whole else None

    @property
    def has_found(self) -> bool:
        """Trees were not found, so the bar has a hatched part."""
        return bool(self.survival and self.survival.facts.get("not_found"))

    @property
    def needed(self) -> list[NeedRow]:
        """The species to order."""
        return [row for row in self.species if row.need.status == "ok" and row.need.n_assured]

    @property
    def is_needed(self) -> bool:
        return bool(self.needed) or bool(self.whole and self.whole.need.status == "ok")

    @property
    def order_by(self) -> date | None:
        return self.first.need.order_by if self.first else None

    @property
    def first(self) -> NeedRow | None:
        """The need that has to be ordered first: its window is the one to name."""
        dated = [row for row in [*self.species, *([self.whole] if self.whole else [])] if row.need.order_by]
        return min(dated, key=lambda row: row.need.order_by, default=None)

    @property
    def is_only_the_mix(self) -> bool:
        """The block holds trees enough in all, but a species falls short of its share."""
        return bool(self.needed) and self.whole is not None and self.whole.need.status == "none_needed"

    @property
    def to_order(self) -> list[NeedRow]:
        """The needs an order is drafted from: those of the species, else the whole block's."""
        return self.needed or ([self.whole] if self.whole and self.whole.need.status == "ok" else [])

    @property
    def n_ordered(self) -> int:
        """Trees an order drafted now would hold."""
        return sum(row.need.n_assured or 0 for row in self.to_order)

    @property
    def n_if_known(self) -> int:
        """Trees to plant if the living were known exactly."""
        return sum(row.need.n_assured_if_known or 0 for row in self.to_order)

    @property
    def n_saved(self) -> int:
        """Trees that more plots could save at most."""
        return sum(row.n_saved for row in self.to_order)

    @property
    def money_saved(self) -> Price | None:
        """What those trees cost, where each has a price in one currency."""
        prices = [row.price for row in self.to_order]
        if not prices or None in prices or len({price[1] for price in prices if price}) > 1:
            return None
        cost = sum(row.n_saved * row.price[0] for row in self.to_order if row.price)
        return cost, next(price[1] for price in prices if price)

    @property
    def rests_on_few(self) -> bool:
        return any(row.rests_on_few for row in self.to_order)

    @property
    def other_stock(self) -> list[str]:
        """Stock types an order may take instead of those planted before."""
        return sorted({other.stock_type for row in self.to_order for other in row.choices.others})

    @property
    def missed(self) -> tuple[date | None, ...]:
        """The window it is too late to order for, of the need named first; empty where there is none."""
        same = self.first.choices.same if self.first else None
        return same.missed if same else ()

    @property
    def season(self) -> str:
        """The planting season of the window named, where one is on record."""
        same = self.first.choices.same if self.first else None
        return same.facts["season"] if same else ""

    @property
    def is_late(self) -> bool:
        return bool(self.order_by and self.order_by < self.today)

    @property
    def is_urgent(self) -> bool:
        return bool(self.order_by and (self.order_by - self.today).days <= 7)

    @property
    def stands_in_order(self) -> bool:
        """An order holds exactly this need."""
        if self.order is None:
            return False
        held = held_needs(self.order)
        rows = self.needed or ([self.whole] if self.whole else [])
        return all(held.get(str(row.need.uid), {}).get("revision") == row.need.revision for row in rows)


@dataclass(frozen=True)
class NeedPage:
    """Blocks that need an order, and those that do not or where nothing can be said."""

    to_order: list[BlockNeeds] = field(default_factory=list)
    others: list[BlockNeeds] = field(default_factory=list)
    n_left_out: int = 0

    @property
    def has_found(self) -> bool:
        return any(row.has_found for row in self.to_order)


def need_page(actor: Actor, project: Project | None = None, block: Block | None = None) -> NeedPage:
    """Every need the actor may see, soonest order date first, in a fixed number of queries."""
    rows = access.visible_needs(actor).filter(block__archived_at__isnull=True)
    rows = rows.filter(project=project) if project else rows
    rows = rows.filter(block=block) if block else rows
    rows = rows.select_related("block__site", "project", "species", "round").order_by(
        F("order_by").asc(nulls_last=True), "block__name", "block_id", "id"
    )
    found = block_needs(actor, list(rows))
    shown = found[:MOST_BLOCKS]
    return NeedPage(
        [row for row in shown if row.is_needed],
        [row for row in shown if not row.is_needed],
        len(found) - len(shown),
    )


def block_needs(actor: Actor, needs: list[ReplacementNeed]) -> list[BlockNeeds]:
    """Group needs by block, keeping the order in which blocks first appear."""
    grouped: dict[int, list[ReplacementNeed]] = defaultdict(list)
    for need in needs:
        grouped[need.block_id].append(need)
    figures = figures_of(needs)
    prices = prices_of(actor)
    orders = orders_of(actor, grouped)
    gaps = gaps_of(actor, [row for row in figures.values() if row.measure == "plots_stocked"])
    today = clocks.today_of(actor.organisation)
    causes = standing(actor, grouped)
    return [
        one_block(rows, figures, prices, orders.get(block_id, []), today, gaps, causes.get(block_id, []))
        for block_id, rows in grouped.items()
    ]


def one_block(
    needs: list[ReplacementNeed],
    figures: Mapping[tuple[int, str, str], Estimate],
    prices: Mapping[tuple[int, str], Price],
    orders: list[StockOrder],
    today: date,
    gaps: Mapping[tuple[int, int], Gaps],
    causes: list[LossCause],
) -> BlockNeeds:
    rows = [need_row(need, figures, prices) for need in needs]
    whole = next((row for row in rows if row.need.species_id is None), None)
    block = needs[0].block
    order = orders[-1] if orders else None
    lines = [line for line in order.lines.all() if line.block_id == block.pk] if order else []
    return BlockNeeds(
        block=block,
        project=needs[0].project,
        whole=whole,
        species=[row for row in rows if row.need.species_id is not None],
        if_found=figures.get((needs[0].round_id, str(block.uid), "survival_if_found")),
        order=order,
        ordered=sum(line.quantity for line in lines),
        today=today,
        gaps=gaps.get((needs[0].round_id, block.pk)),
        causes=Causes.of(causes, needs[0].round),
    )


def need_row(
    need: ReplacementNeed,
    figures: Mapping[tuple[int, str, str], Estimate],
    prices: Mapping[tuple[int, str], Price],
) -> NeedRow:
    slug = need.species.slug if need.species else ""
    key = f"{need.block.uid}:{slug}" if slug else str(need.block.uid)
    price = prices.get((need.species_id, need.stock_type)) if need.species_id else None
    survival = figures.get((need.round_id, key, "survival"))
    return NeedRow(need, choices_of(need, prices), survival, price)


def figures_of(needs: Iterable[ReplacementNeed]) -> dict[tuple[int, str, str], Estimate]:
    """Figures of the blocks and species of some needs; keys (round, key, measure)."""
    needs = list(needs)
    rows = headlines(
        {need.round_id for need in needs}, measure__in=("survival", "survival_if_found", "plots_stocked")
    )
    rows = rows.filter(block_id__in={need.block_id for need in needs})
    return {(row.round_id, row.key, row.measure): row for row in rows}


def prices_of(actor: Actor) -> dict[tuple[int, str], Price]:
    """What one plant of a species and stock type cost last time."""
    lots = StockLot.objects.filter(organisation=actor.organisation, unit_cost_minor__isnull=False)
    rows = lots.order_by("received_on", "id").values_list(
        "species_id", "stock_type", "unit_cost_minor", "currency"
    )
    return {(species, stock_type): (minor, currency) for species, stock_type, minor, currency in rows}


def orders_of(actor: Actor, blocks: Iterable[int]) -> dict[int, list[StockOrder]]:
    """Orders under way that were drafted from needs, by block, the oldest first."""
    orders = (
        StockOrder.objects.filter(
            organisation=actor.organisation, status__in=OPEN_ORDERS, lines__block_id__in=list(blocks)
        )
        .distinct().order_by("id").prefetch_related("lines")
    )  # fmt: skip
    found: dict[int, list[StockOrder]] = defaultdict(list)
    for order in orders:
        for block_id in {line.block_id for line in order.lines.all() if held_needs(order)}:
            found[block_id].append(order)
    return found


def held_needs(order: StockOrder) -> dict[str, Any]:
    """The needs an order copied, by uid."""
    return {need["uid"]: need for need in order.copied_figures.get("needs", [])}

"""What to order, and by when: needs by block with their species, prices, orders already made and signs of loss."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import F, Q

from monitoring import access
from monitoring.models import Estimate, ReplacementNeed
from monitoring.selectors.headlines import headlines
from projects import clocks
from projects.access import Actor
from projects.models import Block, OrderStatus, Project, StockLot, StockOrder

MOST_BLOCKS = 200
OPEN_ORDERS = (OrderStatus.DRAFT, OrderStatus.PLACED, OrderStatus.CONFIRMED)
Price = tuple[int, str]  # minor units, currency


@dataclass(frozen=True)
class NeedRow:
    """One need beside what it would cost."""

    need: ReplacementNeed
    survival: Estimate | None = None
    reckoned: Estimate | None = None  # the figure the survival of replacements was taken from
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

    def _cost(self, trees: int | None) -> int | None:
        return None if self.price is None or trees is None else trees * self.price[0]

    @property
    def losses(self) -> list[tuple[str, int]]:
        """Signs seen on what was lost, the most frequent first."""
        return sorted(self.need.losses.items(), key=lambda item: (-item[1], item[0]))


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
    today = clocks.today_of(actor.organisation)
    return [
        one_block(rows, figures, prices, orders.get(block_id, []), today)
        for block_id, rows in grouped.items()
    ]


def one_block(
    needs: list[ReplacementNeed],
    figures: Mapping[tuple[int, str, str], Estimate],
    prices: Mapping[tuple[int, str], Price],
    orders: list[StockOrder],
    today: date,
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
    )


def need_row(
    need: ReplacementNeed,
    figures: Mapping[tuple[int, str, str], Estimate],
    prices: Mapping[tuple[int, str], Price],
) -> NeedRow:
    slug = need.species.slug if need.species else ""
    key = f"{need.block.uid}:{slug}" if slug else str(need.block.uid)
    price = prices.get((need.species_id, need.stock_type)) if need.species_id else None
    sources = {"species": slug, "stock_type": need.stock_type, "project": str(need.project.uid)}
    source = need.replacement_survival_source.removesuffix("_so_far").removeprefix("observed_")
    reckoned = figures.get((need.round_id, sources.get(source, ""), "survival"))
    return NeedRow(need, figures.get((need.round_id, key, "survival")), reckoned, price)


def figures_of(needs: Iterable[ReplacementNeed]) -> dict[tuple[int, str, str], Estimate]:
    """Figures behind some needs, and those replacements were reckoned by; keys (round, key, measure)."""
    needs = list(needs)
    within = Q(block_id__in={need.block_id for need in needs})
    pooled = Q(scope__in=("species", "stock_type", "project"), measure="survival")
    rows = headlines({need.round_id for need in needs}, measure__in=("survival", "survival_if_found"))
    rows = rows.filter(within | pooled)
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

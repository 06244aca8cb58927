"""Nurseries, orders, lots, planting days and everything else that became of the plants."""

from datetime import date, timedelta

from monitoring.demo.serra_growing import CLOSED_AFTER, CONFIRMED_AFTER, DAYS_LATE
from monitoring.demo.shapes import BlockPlan, Lot, OrganisationPlan, Planting
from projects.access import Actor
from projects.models import Block, Cohort, Nursery, OrderLine, OrderStatus, Project, StockLot, StockOrder
from projects.services import lots, movements, nurseries, offers, orders, planting
from species.models import Species

CREWS = ("crew one", "crew two")
ORDERED_FROM_WEEKS = 10  # a lead time shorter than this is the group's own shed, where nothing is ordered


class StockBook:
    """What is needed again and again while stock is written."""

    def __init__(self, actor: Actor, plan: OrganisationPlan) -> None:
        self.actor, self.plan = actor, plan
        organisation = actor.organisation
        self.species = {row.slug: row for row in Species.objects.filter(owner_organisation_uid__isnull=True)}
        self.blocks = {row.name: row for row in Block.objects.filter(organisation=organisation)}
        self.projects = {row.name: row for row in Project.objects.filter(organisation=organisation)}
        self.nurseries: dict[str, Nursery] = {}
        self.lots: dict[str, StockLot] = {}

    # --- nurseries and lots -------------------------------------------------------------------
    def write_nurseries(self) -> None:
        """Add the nurseries."""
        country = self.plan.sites[0].country_code
        for name, weeks, notes in self.plan.nurseries:
            self.nurseries[name] = nurseries.make_nursery(
                actor=self.actor, name=name, country_code=country, lead_time_weeks=weeks, notes=notes
            )

    def write_offers(self) -> None:
        """Write the price lists."""
        for row in self.plan.offers:
            offers.make_offer(
                actor=self.actor, nursery=self.nurseries[row.nursery], species=self.species[row.species],
                stock_type=row.stock_type, unit_price_minor=row.price_minor, currency=self.plan.currency,
                on_offer=row.on_offer, least_quantity=row.least, lead_time_weeks=row.weeks, age_code=row.age_code,
                note="invented for the demo",
            )  # fmt: skip

    def write_lots(self, rows: tuple[Lot, ...]) -> None:
        """Receive lots, each against the order it came from, and note their time in store."""
        for row in rows:
            order = self.closed_order(row)
            self.lots[row.code] = lots.receive_lot(
                actor=self.actor, order=order, code=row.code, nursery=self.nurseries[row.nursery],
                species=self.species[row.species], stock_type=row.stock_type, unit=row.unit, age_code=row.age_code,
                provenance=row.provenance, lifted_on=row.lifted_on, received_on=row.received_on,
                received=row.received, unit_cost_minor=row.unit_cost_minor, currency=self.plan.currency, note=row.note,
            )  # fmt: skip
            if order is not None:
                StockLot.objects.filter(pk=self.lots[row.code].pk).update(order_line=order.lines.get())
            for kind, start, end in row.stores:
                movements.begin_storage(
                    actor=self.actor, lot=self.lots[row.code], kind=kind, from_on=start, until_on=end
                )

    def closed_order(self, row: Lot) -> StockOrder | None:
        """Return the order a lot answered, written as history: services place orders only on the day itself."""
        nursery = self.nurseries[row.nursery]
        first = next((b for b in self.plan.blocks for p in b.plantings if p.lot == row.code), None)
        if first is None or nursery.lead_time_weeks < ORDERED_FROM_WEEKS:
            return None
        latest = row.received_on - timedelta(weeks=nursery.lead_time_weeks)
        ordered = latest - timedelta(days=9)
        organisation = self.actor.organisation
        order = StockOrder.objects.create(
            organisation=organisation, project=self.projects[first.project], nursery=nursery, status=OrderStatus.CLOSED,
            reference=f"O-{row.code}", ordered_on=ordered, confirmed_on=ordered + timedelta(days=CONFIRMED_AFTER),
            promised_on=row.received_on - timedelta(days=DAYS_LATE.get(row.code, 0)), order_by=latest,
            closed_on=row.received_on + timedelta(days=CLOSED_AFTER), needed_by=row.received_on,
            currency=self.plan.currency, reason="planting plan of the season",
        )  # fmt: skip
        OrderLine.objects.create(
            organisation=organisation, order=order, block=self.blocks[first.name], species=self.species[row.species],
            stock_type=row.stock_type, quantity=row.received, confirmed_quantity=row.received,
            unit_price_minor=row.unit_cost_minor, currency=self.plan.currency,
        )  # fmt: skip
        return order

    # --- planting -----------------------------------------------------------------------------
    def write_plantings(self) -> None:
        """Record every planting day in order of time, so that a replacement finds what it replaces."""
        rows = [(p, b) for b in self.plan.blocks for p in b.plantings]
        for row, block in sorted(rows, key=lambda pair: pair[0].days[0]):
            days = self.farm_days(row, block) if block.farms else [(day, n, None) for day, n in row.days]
            for number, (day, quantity, holding) in enumerate(days):
                planting.plant(
                    actor=self.actor, block=self.blocks[block.name], lot=self.lots.get(row.lot), planted_on=day,
                    quantity=quantity, holding=holding, crew=CREWS[number % 2] if holding is None else "the farm",
                    species=self.species[row.species], stock_type=row.stock_type,
                    replaces=self.replaced(block, row),
                )  # fmt: skip

    def farm_days(self, row: Planting, block: BlockPlan) -> list[tuple]:
        """Return one planting day per farm, in the weeks before the list was closed."""
        known = {holding.label: holding for holding in self.blocks[block.name].holdings.all()}
        last = row.days[-1][0]
        return [
            (last - timedelta(days=15 - number % 16), farm.trees[row.lot], known[farm.label])
            for number, farm in enumerate(block.farms)
            if farm.trees.get(row.lot)
        ]

    def replaced(self, block: BlockPlan, row: Planting) -> Cohort | None:
        """Return the cohort a replacement planting fills up."""
        if not row.replaces:
            return None
        return Cohort.objects.get(block=self.blocks[block.name], lot=self.lots[row.replaces])

    # --- what else became of the plants -------------------------------------------------------
    def write_movements(self, rows: tuple[Lot, ...]) -> None:
        """Record culls, losses and the like, and the stock takes."""
        for row in rows:
            lot = self.lots[row.code]
            for kind, quantity, day, note in row.movements:
                movements.move(
                    actor=self.actor, lot=lot, kind=kind, quantity=quantity, moved_on=day, note=note
                )
            for day, on_hand, note in row.takes:
                movements.count_stock(actor=self.actor, lot=lot, counted_on=day, on_hand=on_hand, note=note)

    def write_draft_order(self, today: date) -> StockOrder:
        """Draft the order that has to be placed within the week."""
        nursery = self.nurseries["Vale Pardo nursery"]
        order_by = today + timedelta(days=7)
        block = self.blocks["Frost hollow"]
        lines = [
            orders.Line(self.species["quercus-pyrenaica"], "bare_root", 620, block, 74),
            orders.Line(self.species["betula-celtiberica"], "bare_root", 180, block, 52),
        ]
        return orders.draft_order(
            actor=self.actor, project=block.project, nursery=nursery, lines=lines, order_by=order_by,
            needed_by=order_by + timedelta(weeks=nursery.lead_time_weeks),
            reason="Refill the frost hollow after the frosts have passed.",
        )  # fmt: skip

"""What came, when and from where, read for the pages of deliveries."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Q, QuerySet, Sum

from projects import access
from projects.access import Actor
from projects.models import Delivery, StockLot, StockOrder
from projects.selectors.ledgers import LotStanding, standings
from projects.selectors.order_progress import LineStanding, LotThatCame, standing_of


@dataclass(frozen=True)
class LotOfDelivery:
    """A lot that came, what it came for, and how its count agrees with the note."""

    standing: LotStanding
    came: LotThatCame | None

    @property
    def short(self) -> int | None:
        """How many fewer were counted than the note says (below 0: more); None without a number on the note."""
        lot = self.standing.lot
        return None if lot.stated is None else lot.stated - lot.received


def delivery_list(actor: Actor) -> QuerySet[Delivery]:
    """Deliveries the actor may read, with how many lots and plants came."""
    rows = Delivery.objects.filter(pk__in=access.visible_deliveries(actor).values("pk"))
    own = Q(lots__received__gt=0)
    return rows.select_related("nursery", "order__project").annotate(
        n_lots=Count("lots", filter=own), plants=Sum("lots__received", filter=own)
    )


def lots_of(actor: Actor, delivery: Delivery, today: date) -> list[LotOfDelivery]:
    """Return the lots that came with a delivery; those split off from them stand on their own pages."""
    lots = access.visible_lots(actor).filter(delivery=delivery, received__gt=0)
    rows = standings(lots.select_related("species", "nursery", "order_line__species").order_by("id"), today)
    came = _fits(delivery.order, today) if delivery.order is not None else {}
    return [LotOfDelivery(row, came.get(row.lot.pk)) for row in rows]


def _fits(order: StockOrder, today: date) -> dict[int, LotThatCame]:
    return {came.lot.pk: came for line in standing_of(order, today).lines for came in line.lots}


def still_to_come(order: StockOrder, today: date) -> list[LineStanding]:
    """Return the lines of an order, those with something still to come first."""
    return sorted(standing_of(order, today).lines, key=lambda row: row.progress.to_come <= 0)


def lots_to_merge(actor: Actor, lot: StockLot) -> QuerySet[StockLot]:
    """Other lots that could be put together with one: same nursery, species, stock type and unit."""
    same = {name: getattr(lot, name) for name in ("nursery", "species", "stock_type", "unit")}
    rows = StockLot.objects.filter(pk__in=access.visible_lots(actor).values("pk"), **same)
    return rows.current().exclude(pk=lot.pk).order_by("-received_on", "code")

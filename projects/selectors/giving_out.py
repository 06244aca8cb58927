"""Holdings of a block with what each was given, of one lot and of all."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Max, Q, QuerySet, Sum

from projects import access
from projects.access import Actor
from projects.models import Block, Holding, Layout, LotMovement, MovementKind, StockLot


@dataclass(frozen=True)
class Given:
    """A holding with what it was given of a lot, what of all lots, and what its own list says it received."""

    holding: Holding
    of_lot: int
    of_all: int
    last_on: date | None

    @property
    def differs(self) -> bool:
        """Whether what was given out and what the list of holdings says disagree."""
        return self.of_all > 0 and self.of_all != self.holding.trees_received


def blocks_of_holdings(actor: Actor) -> QuerySet[Block]:
    """Blocks in use that are lists of holdings with somebody on them."""
    rows = access.visible_blocks(actor).current().filter(layout=Layout.HOLDINGS, holdings__isnull=False)
    return rows.select_related("site").distinct().order_by("name", "id")


def given(block: Block, lot: StockLot) -> list[Given]:
    """Return the holdings of a block in order, in two queries."""
    moved = LotMovement.objects.filter(
        kind=MovementKind.GIVEN_OUT, voided_at__isnull=True, holding__block=block
    )
    sums = moved.order_by().values_list("holding_id").annotate(
        of_lot=Sum("quantity", filter=Q(lot=lot)), of_all=Sum("quantity"), last=Max("moved_on", filter=Q(lot=lot))
    )  # fmt: skip
    known = {pk: values for pk, *values in sums}
    rows = []
    for holding in block.holdings.select_related("person").order_by("label", "id"):
        of_lot, of_all, last = known.get(holding.pk, (0, 0, None))
        rows.append(Given(holding, of_lot or 0, of_all or 0, last))
    return rows

"""Which lots a lot was split or merged from, and which came of it."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Q

from projects import access
from projects.access import Actor
from projects.models import LotMovement, StockLot


@dataclass(frozen=True, slots=True)
class Step:
    """Plants of one lot that went over into another on a day."""

    parent_id: int
    child_id: int
    quantity: int
    moved_on: date


@dataclass(frozen=True)
class Family:
    """Lots tied to some lots by splits and merges.

    `parents[lot]` are the steps by which its plants came over, `children[lot]` those by which plants left it for
    another lot. Steps taken back are left out. `ids` are all lots met, those asked for among them.
    """

    ids: frozenset[int]
    parents: dict[int, list[Step]] = field(default_factory=dict)
    children: dict[int, list[Step]] = field(default_factory=dict)

    def ancestors(self, lot_id: int) -> list[int]:
        """Return the lots a lot's plants were in before, the nearest first."""
        return _reached(lot_id, lambda one: [step.parent_id for step in self.parents.get(one, [])])

    def descendants(self, lot_id: int) -> list[int]:
        """Return the lots that plants of a lot went on into, the nearest first."""
        return _reached(lot_id, lambda one: [step.child_id for step in self.children.get(one, [])])

    def roots(self, lot_id: int) -> list[int]:
        """Return the lots a lot's plants came in as: itself where it was neither split off nor merged."""
        found = [one for one in [lot_id, *self.ancestors(lot_id)] if not self.parents.get(one)]
        return found or [lot_id]


def family(lots: Iterable[StockLot | int]) -> Family:
    """Read ancestors and descendants of lots: one query a generation each way, however many the lots."""
    ids = [lot if isinstance(lot, int) else lot.pk for lot in lots]
    return _family(ids, [*_climb(ids, up=True), *_climb(ids, up=False)])


def ancestry(ids: Sequence[int]) -> Family:
    """Read only the ancestors of lots: one query where none was split off or merged."""
    return _family(ids, _climb(ids, up=True))


@dataclass(frozen=True)
class Kin:
    """A split or merge as the page of a lot shows it: the other lot, and whether its page may be opened."""

    movement: LotMovement
    lot: StockLot
    may_open: bool


def kin_of(actor: Actor, lot: StockLot) -> dict[str, list[Kin]]:
    """Return the steps by which plants came over into a lot, and by which they left it for another."""
    steps = LotMovement.objects.filter(voided_at__isnull=True, to_lot__isnull=False)
    rows = list(
        steps.filter(Q(lot=lot) | Q(to_lot=lot)).select_related("lot", "to_lot").order_by("moved_on", "id")
    )
    others = {row.lot_id if row.to_lot_id == lot.pk else row.to_lot_id for row in rows}
    seen = (
        set(access.visible_lots(actor).filter(pk__in=others).values_list("pk", flat=True)) if rows else set()
    )
    return {
        "came": [Kin(row, row.lot, row.lot_id in seen) for row in rows if row.to_lot_id == lot.pk],
        "went": [Kin(row, row.to_lot, row.to_lot_id in seen) for row in rows if row.lot_id == lot.pk],
    }


def _family(ids: Sequence[int], steps: Iterable[tuple[int, Step]]) -> Family:
    parents: dict[int, list[Step]] = defaultdict(list)
    children: dict[int, list[Step]] = defaultdict(list)
    met = set(ids)
    for _pk, step in sorted(dict(steps).items()):
        parents[step.child_id].append(step)
        children[step.parent_id].append(step)
        met |= {step.parent_id, step.child_id}
    return Family(frozenset(met), dict(parents), dict(children))


def _climb(ids: Sequence[int], *, up: bool) -> list[tuple[int, Step]]:
    """Follow steps generation by generation; a lot met before is not asked again, so a ring ends too."""
    end = "to_lot_id" if up else "lot_id"
    moved = LotMovement.objects.filter(to_lot__isnull=False, voided_at__isnull=True)
    found, met, here = list[tuple[int, Step]](), set(ids), set(ids)
    while here:
        rows = moved.filter(**{f"{end}__in": here}).order_by("id")
        steps = [
            (pk, Step(*values))
            for pk, *values in rows.values_list("id", "lot_id", "to_lot_id", "quantity", "moved_on")
        ]
        found += steps
        here = {step.parent_id if up else step.child_id for _pk, step in steps} - met
        met |= here
    return found


def _reached(start: int, steps: Callable[[int], list[int]]) -> list[int]:
    met, order, here = {start}, list[int](), [start]
    while here:
        ahead = [one for at in here for one in steps(at)]
        here = [one for one in dict.fromkeys(ahead) if one not in met]
        met |= set(here)
        order += here
    return order

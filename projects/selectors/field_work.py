"""What a phone needs for field work offline: lots on hand, blocks to walk through, care that is open."""

from collections.abc import Iterable
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import F

from projects import access, clocks
from projects.access import Actor
from projects.models import Block, CareTask, LotCheck, Organisation, StockLot
from projects.selectors.ledgers import ledgers_of
from projects.services.field_kinds.rights import at_work

Told = dict[str, Any]
MOST_LOTS, MOST_BLOCKS, MOST_TASKS = 300, 300, 300  # a pack stays small on a slow link


def field_work(actor: Actor) -> Told | None:
    """Return what the phone's pass lets it do beside counting, or None; the number of queries is constant."""
    if actor.field_pass is None:
        return None
    worker = at_work(actor, "lot.edit")
    if not worker.project_ids:
        return None
    return {
        "lots": told_lots(worker),
        "blocks": [told_block(row, worker.organisation) for row in blocks_of(worker)],
        "tasks": [told_task(row) for row in tasks_of(worker)],
    }


def told_lots(worker: Actor) -> list[Told]:
    """Return lots of which plants are on hand, the newest first, each with its last look."""
    rows = access.visible_lots(worker).filter(archived_at__isnull=True).select_related("species")
    lots = list(rows.order_by("-received_on", "code", "id")[: 2 * MOST_LOTS])
    ledgers, checks = ledgers_of(lots), last_checks(lots)
    zone = clocks.zone(worker.organisation.time_zone)
    on_hand = [lot for lot in lots if ledgers[lot.pk].at_hand > 0]
    return [told_lot(lot, ledgers[lot.pk].at_hand, checks.get(lot.pk), zone) for lot in on_hand[:MOST_LOTS]]


def last_checks(lots: Iterable[StockLot]) -> dict[int, LotCheck]:
    rows = LotCheck.objects.filter(lot__in=[lot.pk for lot in lots], voided_at__isnull=True)
    return {row.lot_id: row for row in rows.order_by("checked_at", "id")}  # the last one stays


def told_lot(lot: StockLot, at_hand: int, check: LotCheck | None, zone: ZoneInfo) -> Told:
    last = check and {
        "checked_on": check.checked_at.astimezone(zone).date().isoformat(),
        "point": check.point,
        "verdict": check.verdict,
    }
    return {
        "uid": str(lot.uid), "code": lot.code, "species": lot.species.slug, "stock_type": lot.stock_type,
        "unit": lot.unit, "received_on": lot.received_on.isoformat(), "received": lot.received,
        "stated": lot.stated, "at_hand": at_hand, "last_check": last,
    }  # fmt: skip


def blocks_of(worker: Actor) -> Iterable[Block]:
    rows = access.visible_blocks(worker).filter(archived_at__isnull=True).select_related("site")
    return rows.order_by("site__name", "name", "id")[:MOST_BLOCKS]


def told_block(block: Block, organisation: Organisation) -> Told:
    return {
        "uid": str(block.uid), "name": block.name, "site": named(block.site), "hazards": block.hazards,
        "emergency": block.site.emergency_contact or organisation.emergency_contact,
    }  # fmt: skip


def tasks_of(worker: Actor) -> Iterable[CareTask]:
    """Return open tasks, the soonest due first; those without a day come last."""
    rows = access.visible_care_tasks(worker).filter(done_on__isnull=True, dropped_at__isnull=True)
    ordered = rows.select_related("block__site").order_by(F("due_by").asc(nulls_last=True), "id")
    return ordered[:MOST_TASKS]


def told_task(task: CareTask) -> Told:
    return {
        "uid": str(task.uid), "kind": task.kind, "what": task.what, "block": named(task.block),
        "site": named(task.block.site), "due_from": task.due_from and task.due_from.isoformat(),
        "due_by": task.due_by and task.due_by.isoformat(), "amount": task.amount, "amount_unit": task.amount_unit,
    }  # fmt: skip


def named(row: Any) -> Told:
    return {"uid": str(row.uid), "name": row.name}

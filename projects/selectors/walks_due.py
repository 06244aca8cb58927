"""Walks that planted blocks wait for, and what was walked: read for one block, a page, or all that is told."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Max, Min

from projects import access
from projects.access import Actor
from projects.calc.walks_due import PLANTING, Cause, WalkDue
from projects.calc.walks_due import walks_due as due_in
from projects.models import Block, Organisation, PlantingDay, SiteEvent, Walk


@dataclass(frozen=True)
class BlockWalk:
    """A walk one block waits for."""

    block: Block
    due: WalkDue
    today: date

    @property
    def is_late(self) -> bool:
        """Whether its last day has passed."""
        return self.due.is_late(self.today)

    @property
    def is_open(self) -> bool:
        """Whether a walk would show something by now."""
        return self.due.has_begun(self.today)


def walks_due(organisation: Organisation, today: date) -> list[BlockWalk]:
    """Every walk that blocks in use wait for, the soonest first, those to come included; four queries."""
    blocks = Block.objects.filter(organisation=organisation, site__archived_at__isnull=True).current()
    return walks_of(blocks.select_related("site", "project"), today)


def walks_the_actor_sees(actor: Actor, today: date) -> list[BlockWalk]:
    """The same for the blocks this actor may read."""
    blocks = access.visible_blocks(actor).filter(archived_at__isnull=True, site__archived_at__isnull=True)
    return walks_of(blocks.select_related("site", "project"), today)


def walks_of(blocks: Iterable[Block], today: date) -> list[BlockWalk]:
    """Walks that some blocks wait for; three queries besides the blocks, however many they are."""
    rows = list(blocks)
    causes, walked = causes_of(rows), walked_days(rows)
    found = [
        BlockWalk(row, due, today) for row in rows for due in due_in(causes[row.pk], walked[row.pk], today)
    ]
    return sorted(found, key=lambda each: (each.due.due_by, each.block.name, each.block.pk))


def causes_of(blocks: Sequence[Block]) -> dict[int, list[Cause]]:
    """Why each block should be walked: its planting seasons, and what befell its site once trees stood there."""
    causes: dict[int, list[Cause]] = defaultdict(list)
    planted_from: dict[int, date] = {}
    days = PlantingDay.objects.filter(block__in=blocks, voided_at__isnull=True).order_by()
    for block_id, season, first, last in days.values_list("block_id", "cohort__season__uid").annotate(
        first=Min("planted_on"), last=Max("planted_on")
    ):
        causes[block_id].append(Cause(PLANTING, last, str(season)))
        planted_from[block_id] = min(first, planted_from.get(block_id, first))
    events: dict[int, list[SiteEvent]] = defaultdict(list)
    sites = {row.site_id for row in blocks}
    for event in SiteEvent.objects.filter(site_id__in=sites, voided_at__isnull=True).order_by("happened_on"):
        events[event.site_id].append(event)
    for row in blocks:
        causes[row.pk] += [
            Cause(event.kind, event.happened_on, str(event.uid))
            for event in events[row.site_id]
            if row.pk in planted_from and planted_from[row.pk] <= event.happened_on
        ]
    return causes


def walked_days(blocks: Sequence[Block]) -> dict[int, list[date]]:
    """Days on which each block was walked; walks taken back do not count."""
    walked: dict[int, list[date]] = defaultdict(list)
    rows = Walk.objects.filter(block__in=blocks, voided_at__isnull=True).order_by("walked_on", "id")
    for block_id, day in rows.values_list("block_id", "walked_on"):
        walked[block_id].append(day)
    return walked

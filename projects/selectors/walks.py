"""Walks as their pages list them: what is due, what was walked and seen, and what befell sites."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from projects import access, walk_words
from projects.access import Actor
from projects.models import Block, SiteEvent, Walk
from projects.selectors.walks_due import BlockWalk, walks_of, walks_the_actor_sees

MOST_OF_A_BLOCK, MOST_LISTED, MOST_EVENTS = 5, 100, 20


@dataclass(frozen=True)
class DueWalk:
    """A walk that is due, in words."""

    row: BlockWalk

    @property
    def because(self) -> list[str]:
        """Its causes: "planted until 3 February 2026"."""
        return [walk_words.cause_words(cause) for cause in self.row.due.causes]


@dataclass(frozen=True)
class BlockWalks:
    """Walks of one block: due, and the latest that were made."""

    due: Sequence[DueWalk]
    walks: Sequence[Walk]


@dataclass(frozen=True)
class WalkList:
    """Everything the page of walks shows."""

    due: Sequence[DueWalk]
    walks: Sequence[Walk]
    events: Sequence[SiteEvent]


def block_walks(actor: Actor, block: Block, today: date) -> BlockWalks | None:
    """Walks of a block; None for who may not see them. Five queries."""
    if not actor.may("walk.view"):
        return None
    due = [] if block.archived_at else [DueWalk(row) for row in walks_of([block], today)]
    return BlockWalks(due, list(_walked(actor).filter(block=block)[:MOST_OF_A_BLOCK]))


def walk_list(actor: Actor, today: date) -> WalkList:
    """What is due and what was walked and befell sites lately."""
    events = access.visible_site_events(actor).filter(voided_at__isnull=True).select_related("site")
    return WalkList(
        [DueWalk(row) for row in walks_the_actor_sees(actor, today)],
        list(_walked(actor)[:MOST_LISTED]),
        list(events.order_by("-happened_on", "-id")[:MOST_EVENTS]),
    )


def _walked(actor: Actor) -> QuerySet[Walk]:
    rows = access.visible_walks(actor).select_related("block__site", "walked_by")
    return rows.prefetch_related("sightings__task").order_by("-walked_on", "-id")

"""What the home page shows: what needs deciding, by when, and the sites as strips of seasons."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet

from projects import access, clocks
from projects.access import Actor
from projects.models import Membership, Reminder, ReminderSnooze, Site
from projects.reminder_words import concerning, words_for
from projects.selectors.grounds import planted_by_season
from projects.selectors.reminder_owners import Owner, current_members, may_see_to, owners_of

MOST_REMINDERS = 200
SOON = timedelta(days=7)


@dataclass(frozen=True)
class ToDecide:
    """One thing to decide, in words, with who sees to it and who else could."""

    row: Reminder
    title: str
    reason: str
    action: str
    late: bool
    urgent: bool
    owner: Owner
    mine: bool
    could: tuple[Membership, ...] = ()


@dataclass(frozen=True)
class Group:
    """Things to decide of one stretch of time: "late", "week", "later" or "undated"."""

    name: str
    items: list[ToDecide]


def to_decide(actor: Actor, today: date) -> list[ToDecide]:
    """Return the reminders that stand and that the actor may act on, soonest first and undated ones last.

    Snoozed ones are left out.
    """
    rows = access.visible_reminders(actor).filter(concerning(actor), ~Exists(put_off(today)))
    dated = rows.filter(due_on__isnull=False).order_by("due_on", "rank", "id")[:MOST_REMINDERS]
    undated = rows.filter(due_on__isnull=True).order_by("rank", "id")[:MOST_REMINDERS]
    found = [*dated, *undated]
    owners = owners_of(actor.organisation, found)
    members = list(current_members(actor.organisation)) if found and actor.may("reminder.assign") else []
    return [_in_words(actor, row, today, owners[row.pk], members) for row in found]


def put_off(today: date) -> QuerySet[ReminderSnooze]:
    """What keeps a reminder out of the list on a day, as a subquery."""
    return ReminderSnooze.objects.filter(
        organisation_id=OuterRef("organisation_id"),
        kind=OuterRef("kind"),
        subject_uid=OuterRef("subject_uid"),
        until_on__gt=today,
    )


def _in_words(
    actor: Actor, row: Reminder, today: date, owner: Owner, members: Sequence[Membership]
) -> ToDecide:
    words = words_for(row.kind, row.facts)
    return ToDecide(
        row=row,
        title=words["title"],
        reason=words["reason"],
        action=words["action"],
        late=row.due_on is not None and row.due_on < today,
        urgent=row.due_on is not None and row.due_on <= today + SOON,
        owner=owner,
        mine=owner.is_me(actor),
        could=tuple(member for member in members if may_see_to(member, row)),
    )


def grouped(items: Iterable[ToDecide]) -> list[Group]:
    """Return the groups that hold anything: what is late, due within a week, later, and without a date."""
    groups: dict[str, list[ToDecide]] = {"late": [], "week": [], "later": [], "undated": []}
    for item in items:
        dated = "late" if item.late else "week" if item.urgent else "later"
        groups["undated" if item.row.due_on is None else dated].append(item)
    return [Group(name, found) for name, found in groups.items() if found]


def site_strips(actor: Actor) -> list[dict[str, Any]]:
    """Return sites with what was planted in each season there, oldest season first."""
    sites = list(access.visible_sites(actor).filter(archived_at__isnull=True).order_by("name", "id")[:60])
    seasons = defaultdict(list)
    for row in planted_by_season(access.visible_planting_days(actor)):
        seasons[row["site_id"]].append(row)
    return [{"site": site, "seasons": seasons[site.pk]} for site in sites]


def first_step(actor: Actor) -> str:
    """Return what an empty organisation does next: "site", "project", "block", "planting" or ""."""
    if not actor.may("site.edit"):
        return ""
    if not Site.objects.filter(organisation=actor.organisation).exists():
        return "site"
    if not access.visible_projects(actor).exists():
        return "project"
    if not access.visible_blocks(actor).exists():
        return "block"
    if not access.visible_planting_days(actor).exists():
        return "planting"
    return ""


def today_for(actor: Actor) -> date:
    """Return the day reminders are read on."""
    return clocks.today_of(actor.organisation)

"""What the home page shows: what needs deciding, by when, and the sites as strips of seasons."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Exists, OuterRef

from projects import access, clocks
from projects.access import Actor
from projects.models import Reminder, ReminderSnooze, Site
from projects.reminder_words import concerning, words_for
from projects.selectors.grounds import planted_by_season

MOST_REMINDERS = 200
SOON = timedelta(days=7)


@dataclass(frozen=True)
class ToDecide:
    """One thing to decide, in words."""

    row: Reminder
    title: str
    reason: str
    action: str
    late: bool
    urgent: bool


def to_decide(actor: Actor, today: date) -> list[ToDecide]:
    """Return the reminders that stand and that the actor may act on, soonest first and undated ones last.

    Snoozed ones are left out.
    """
    snoozed = ReminderSnooze.objects.filter(
        organisation_id=OuterRef("organisation_id"),
        kind=OuterRef("kind"),
        subject_uid=OuterRef("subject_uid"),
        until_on__gt=today,
    )
    rows = access.visible_reminders(actor).filter(concerning(actor), ~Exists(snoozed))
    dated = rows.filter(due_on__isnull=False).order_by("due_on", "rank", "id")[:MOST_REMINDERS]
    undated = rows.filter(due_on__isnull=True).order_by("rank", "id")[:MOST_REMINDERS]
    return [_in_words(row, today) for row in [*dated, *undated]]


def _in_words(row: Reminder, today: date) -> ToDecide:
    words = words_for(row.kind, row.facts)
    return ToDecide(
        row=row,
        title=words["title"],
        reason=words["reason"],
        action=words["action"],
        late=row.due_on is not None and row.due_on < today,
        urgent=row.due_on is not None and row.due_on <= today + SOON,
    )


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

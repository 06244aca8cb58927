"""What a calendar shows a member: what is to be decided by a day, when care helps, and planting days.

Only what the member may see, and no names of people: a calendar is copied to places nobody here can erase.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from uuid import UUID

from django.db.models import Count, Exists, Max, Q
from django.urls import reverse
from django.utils.translation import gettext as _

from projects import access, clocks
from projects.access import Actor
from projects.models import CareTask, CrewDay, CrewDayState, HistoryEntry, Organisation, ReminderOwner
from projects.reminder_words import concerning, words_for
from projects.selectors.home import put_off
from projects.selectors.reminder_owners import owners_of
from projects.services.reminders_of_field import crew_day_link

SHOWN_ELSEWHERE = ("care_due", "crew_day_open")  # care tasks and planting days are entries in their own right
BACK, AHEAD = timedelta(days=60), timedelta(days=400)
MOST = 1000
CALLED_OFF = (CrewDayState.CALLED_OFF, CrewDayState.NO_GO)
ONE_DAY = timedelta(days=1)
LAST_DAY = date.max - ONE_DAY  # of a calendar: the day after must still be one


@dataclass(frozen=True)
class Entry:
    """One entry of a calendar. `ends` is exclusive: the day after the last one, or the instant it is over."""

    uid: UUID
    starts: date
    ends: date | None
    summary: str
    description: str = ""
    link: str = ""
    where: str = ""
    status: str = "CONFIRMED"
    changed_at: datetime | None = None
    sequence: int = 0


def entries_for(actor: Actor, today: date, *, only_mine: bool = False) -> list[Entry]:
    """Everything the actor's calendar shows, the earliest first; a constant number of queries."""
    found = [
        *_of_reminders(actor, today, only_mine=only_mine),
        *_of_care(actor, today, only_mine=only_mine),
        *_of_crew_days(actor, today, only_mine=only_mine),
    ]
    told = _changes(actor.organisation, [subject for subject, _entry in found])
    dated = [
        replace(entry, changed_at=told[subject][0], sequence=told[subject][1] - 1)
        if subject in told
        else entry
        for subject, entry in found
    ]
    return sorted(dated, key=lambda entry: (entry.starts.isoformat(), str(entry.uid)))


def _changes(organisation: Organisation, subjects: Collection[UUID]) -> dict[UUID, tuple[datetime, int]]:
    """When each subject was last changed, and how often it was: history is only added to, so it never goes down."""
    rows = HistoryEntry.objects.filter(organisation=organisation, subject_uid__in=subjects).order_by()
    counted = rows.values_list("subject_uid").annotate(last=Max("happened_at"), n=Count("id"))
    return {uid: (last, n) for uid, last, n in counted}


def _of_reminders(actor: Actor, today: date, *, only_mine: bool) -> Iterable[tuple[UUID, Entry]]:
    rows = access.visible_reminders(actor).filter(concerning(actor), ~Exists(put_off(today)))
    held = list(
        rows.filter(due_on__gte=today - BACK, due_on__lte=today + AHEAD)
        .exclude(kind__in=SHOWN_ELSEWHERE)
        .order_by("due_on", "rank", "id")[:MOST]
    )
    owners = owners_of(actor.organisation, held) if only_mine else {}
    for row in held:
        if (only_mine and not owners[row.pk].is_me(actor)) or row.due_on is None:
            continue
        words = words_for(row.kind, row.facts)
        yield (
            row.subject_uid,
            Entry(row.uid, row.due_on, row.due_on + ONE_DAY, words["title"], words["reason"], row.link),
        )


def _of_care(actor: Actor, today: date, *, only_mine: bool) -> Iterable[tuple[UUID, Entry]]:
    """Open care tasks as the days in which they help: all of them, or a volunteer's own."""
    if not actor.may("care.view"):
        return
    rows = access.visible_care_tasks(actor).filter(
        Q(due_by__gte=today - BACK) | Q(due_by__isnull=True, due_from__gte=today - BACK),
        done_on__isnull=True, dropped_at__isnull=True, block__archived_at__isnull=True,
    )  # fmt: skip
    rows = rows.exclude(due_from__gt=today + AHEAD).select_related("block")
    if not actor.may("care.edit"):
        rows = rows.filter(assigned_to=actor.person)
    mine = _given(actor, "care_due") if only_mine else {}
    for task in rows.order_by("due_by", "id")[:MOST]:
        if only_mine and not mine.get(task.uid, _is(actor, task.assigned_to_id)):
            continue
        yield task.uid, _care_entry(actor.organisation, task)


def _care_entry(organisation: Organisation, task: CareTask) -> Entry:
    first = task.due_from or task.due_by or date.min
    last = task.due_by or first
    title = _("%(block)s: %(what)s") % {"block": task.block.name, "what": task.what}
    why = _("Aftercare, %(kind)s.") % {"kind": task.get_kind_display()}
    link = reverse("projects:care_detail", kwargs={"org": organisation.slug, "uid": task.uid})
    told = "" if task.rule == "sighting" else task.why  # what was written on a walk may be somebody's name
    return Entry(
        task.uid, min(first, LAST_DAY), min(last, LAST_DAY) + ONE_DAY, title, f"{why} {told}".strip(), link
    )


def _of_crew_days(actor: Actor, today: date, *, only_mine: bool) -> Iterable[tuple[UUID, Entry]]:
    """Planting days, with their hours where somebody set them, on the clock of their site."""
    if not actor.may("planting.view"):
        return
    rows = access.visible_crew_days(actor).filter(
        day__gte=today - BACK, day__lte=today + AHEAD, block__archived_at__isnull=True
    )
    if only_mine:
        mine = _given(actor, "crew_day_open")
        person = actor.person.pk if actor.person else 0
        rows = rows.filter(
            Q(lead_id=person)
            | Q(people__person_id=person)
            | Q(uid__in=[uid for uid, me in mine.items() if me])
        ).distinct()
    for row in rows.select_related("block__site").order_by("day", "id")[:MOST]:
        yield row.uid, _crew_day_entry(actor.organisation, row)


def _crew_day_entry(organisation: Organisation, row: CrewDay) -> Entry:
    block, site = row.block, row.block.site
    zone = clocks.zone(site.time_zone)

    def at(hour: time) -> datetime:
        return datetime.combine(row.day, hour, tzinfo=zone).astimezone(clocks.zone("UTC"))

    starts: date = at(row.meet_at) if row.meet_at else row.day
    ends: date | None = row.day + ONE_DAY
    if row.meet_at:
        ends = at(row.back_by) if row.back_by and row.back_by > row.meet_at else None
    status = "CONFIRMED" if row.state != CrewDayState.PLANNED else "TENTATIVE"
    return Entry(
        row.uid, starts, ends,
        _("Planting in %(block)s") % {"block": block.name},
        _("Planting day: %(state)s.") % {"state": row.get_state_display()},
        crew_day_link(organisation, row),
        ", ".join(part for part in (site.name, row.meeting_point) if part),
        "CANCELLED" if row.state in CALLED_OFF else status,
    )  # fmt: skip


def _given(actor: Actor, kind: str) -> dict[UUID, bool]:
    """What of a kind was given to somebody who is still here, and whether to the actor."""
    rows = ReminderOwner.objects.filter(
        organisation=actor.organisation, kind=kind, membership__ended_at__isnull=True
    )
    me = actor.membership.pk if actor.membership else None
    return {uid: pk == me for uid, pk in rows.values_list("subject_uid", "membership_id")}


def _is(actor: Actor, person_id: int | None) -> bool:
    return person_id is not None and actor.person is not None and actor.person.pk == person_id

"""Who sees to each thing to decide: whoever it was given to, else whom the records name, else any manager."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Prefetch, QuerySet

from projects import policy
from projects.access import Actor
from projects.models import (
    CareTask,
    CrewDay,
    Membership,
    Organisation,
    Person,
    ProjectGrant,
    Reminder,
    ReminderOwner,
    Role,
)
from projects.reminder_words import is_narrowed, verb_of

Named = Callable[[Organisation, Sequence[UUID]], dict[UUID, int | None]]


@dataclass(frozen=True)
class Owner:
    """Who sees to a thing. Without a person it is any manager's."""

    person: Person | None = None
    membership: Membership | None = None
    is_given: bool = False  # somebody chose; otherwise the records name them

    def is_me(self, actor: Actor) -> bool:
        """Whether it falls to the actor by name."""
        return self.person is not None and actor.person is not None and self.person.pk == actor.person.pk


ANY_MANAGER = Owner()


def _of_tasks(organisation: Organisation, uids: Sequence[UUID]) -> dict[UUID, int | None]:
    rows = CareTask.objects.filter(organisation=organisation, uid__in=uids, assigned_to__isnull=False)
    return dict(rows.values_list("uid", "assigned_to_id"))


def _of_crew_days(organisation: Organisation, uids: Sequence[UUID]) -> dict[UUID, int | None]:
    rows = CrewDay.objects.filter(organisation=organisation, uid__in=uids, lead__isnull=False)
    return dict(rows.values_list("uid", "lead_id"))


NAMED_BY_THE_RECORDS: dict[str, Named] = {"care_due": _of_tasks, "crew_day_open": _of_crew_days}


def owners_of(organisation: Organisation, reminders: Iterable[Reminder]) -> dict[int, Owner]:
    """Return {reminder id: who sees to it}. A membership that ended owns nothing any more."""
    rows = list(reminders)
    given = _given(organisation, rows)
    named = _named(organisation, rows)
    people = _people(organisation, named.values())
    return {
        row.pk: given.get((row.kind, row.subject_uid))
        or people.get(named.get((row.kind, row.subject_uid)) or 0)
        or ANY_MANAGER
        for row in rows
    }


def _given(organisation: Organisation, rows: Sequence[Reminder]) -> dict[tuple[str, UUID], Owner]:
    held = ReminderOwner.objects.filter(
        organisation=organisation, subject_uid__in={row.subject_uid for row in rows},
        membership__ended_at__isnull=True,
    ).select_related("membership__person")  # fmt: skip
    return {
        (row.kind, row.subject_uid): Owner(row.membership.person, row.membership, is_given=True)
        for row in held
    }


def _named(organisation: Organisation, rows: Sequence[Reminder]) -> dict[tuple[str, UUID], int | None]:
    subjects: dict[str, list[UUID]] = defaultdict(list)
    for row in rows:
        if row.kind in NAMED_BY_THE_RECORDS:
            subjects[row.kind].append(row.subject_uid)
    return {
        (kind, uid): person_id
        for kind, uids in subjects.items()
        for uid, person_id in NAMED_BY_THE_RECORDS[kind](organisation, uids).items()
    }


def _people(organisation: Organisation, ids: Iterable[int | None]) -> dict[int, Owner]:
    """Owners by person: who never signs in may be named, who left may not."""
    wanted = {pk for pk in ids if pk is not None}
    if not wanted:
        return {}
    rows = Person.objects.filter(organisation=organisation, pk__in=wanted, erased_at__isnull=True)
    found = {}
    for person in rows.prefetch_related("memberships"):
        held = list(person.memberships.all())
        current = next((one for one in held if one.ended_at is None), None)
        if current is not None or not held:
            found[person.pk] = Owner(person, current)
    return found


def current_members(organisation: Organisation) -> QuerySet[Membership]:
    """Members to choose an owner from, with their names and projects."""
    grants = Prefetch("grants", ProjectGrant.objects.order_by("id"))
    rows = Membership.objects.filter(organisation=organisation, ended_at__isnull=True)
    return rows.select_related("person").prefetch_related(grants).order_by("person__name", "id")


def may_see_to(membership: Membership, reminder: Reminder) -> bool:
    """Whether a member may press the button of a reminder: by role, and by the projects they see."""
    if membership.ended_at is not None or not policy.allows(membership.role, verb_of(reminder.kind)):
        return False
    if membership.role not in policy.STAFF and is_narrowed(reminder.kind):
        return False  # they are told of their own only, which is given to them on its page
    granted = {grant.project_id for grant in membership.grants.all()}
    limited = membership.role in policy.LIMITED_BY_GRANT or (membership.role == Role.FIELD_LEAD and granted)
    return not limited or reminder.project_id in granted

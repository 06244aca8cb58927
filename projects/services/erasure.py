"""Erase what records say of persons; counts stay, and the chain still verifies, since it holds only a hash."""

import re
from collections.abc import Collection, Sequence
from uuid import UUID

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from projects import history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import (
    CareTask,
    Consent,
    CrewDay,
    CrewDayState,
    LotCheck,
    Person,
    Sighting,
    SubmissionPersonal,
    Walk,
)
from projects.services import editing

AT_ONCE = 500  # rows named in one statement


@transaction.atomic
def erase_person(*, actor: Actor, person: Person, reason: str) -> int:
    """Remove a person's name and contact, and the personal part of every record they sent.

    Returns how many records had one. Doing it again erases what arrived since.
    """
    actor.require("people.edit")
    editing.ours(actor, person)
    wanted(reason)
    parts = SubmissionPersonal.objects.filter(submission__submitted_by=person)
    n_records = erase(actor, parts)
    erase_from_crews(person)
    erase_from_agreements(person)
    Person.objects.filter(pk=person.pk).update(name="", contact="", erased_at=timezone.now())
    person.refresh_from_db()
    history.record(
        actor, "person.erased", person, change={"records": [None, n_records]}, reason=reason.strip()
    )
    return n_records


@transaction.atomic
def erase_records(*, actor: Actor, client_ids: Collection[UUID], reason: str) -> int:
    """Remove the personal part of some records, named by their ids; return how many had one."""
    actor.require("people.edit")
    wanted(reason)
    parts = SubmissionPersonal.objects.filter(submission__client_id__in=client_ids)
    n_records = erase(actor, parts)
    history.record(
        actor,
        "records.erased",
        actor.organisation,
        change={"records": [None, n_records]},
        reason=reason.strip(),
    )
    return n_records


def erase(actor: Actor, parts: QuerySet[SubmissionPersonal]) -> int:
    """Destroy text and salt: without the salt nobody can test a guess against the hash that stays."""
    standing = parts.filter(organisation=actor.organisation, erased_at__isnull=True)
    erase_notes(list(standing.values_list("submission_id", flat=True)))
    return standing.update(personal="", personal_salt="", erased_at=timezone.now())


def erase_from_crews(person: Person) -> None:
    """Take out who was told of a crew: where the person is named, and of days that are over where they went along.

    Of a day still open it stays where it names somebody else: it says who raises the alarm.
    """
    went = Q(lead=person) | Q(people__person=person) | Q(people__buddy=person)
    gone = went & Q(state__in=(CrewDayState.CLOSED, CrewDayState.CALLED_OFF))
    named = Q(buddies__icontains=person.name) if person.name else Q(pk__in=())
    days = CrewDay.objects.filter(gone | named, organisation=person.organisation_id).exclude(buddies="")
    CrewDay.objects.filter(pk__in=list(days.order_by().values_list("pk", flat=True))).update(buddies="")


def erase_from_agreements(person: Person) -> None:
    """Put a mark in the place of the person's name where it was typed into a right, an agreement or a permit."""
    if not person.name:
        return
    name, mark = re.compile(re.escape(person.name), re.IGNORECASE), str(Person(name=""))
    typed = Q()
    for field in Consent.kept_out_of_history:
        typed |= Q(**{f"{field}__icontains": person.name})
    for row in Consent.objects.filter(typed, organisation=person.organisation_id):
        for field in Consent.kept_out_of_history:
            room = getattr(Consent._meta.get_field(field), "max_length", None)
            setattr(row, field, name.sub(mark, getattr(row, field))[:room])
        row.save(update_fields=Consent.kept_out_of_history)


def erase_notes(submissions: Sequence[int]) -> None:
    """Take the notes of records out of the rows that show them, and out of the tasks that quote them."""
    for start in range(0, len(submissions), AT_ONCE):
        some = submissions[start : start + AT_ONCE]
        LotCheck.objects.filter(submission__in=some).update(note="")
        Walk.objects.filter(submission__in=some).update(note="")
        noted = Sighting.objects.filter(walk__submission__in=some).exclude(note="")
        CareTask.objects.filter(sightings__in=noted).update(why="")
        noted.update(note="")


def wanted(reason: str) -> None:
    if not reason.strip():
        raise Refusal(_("Write who asked for it and when; the history keeps it."), field="reason")

"""Members, phones, jobs, history, reminders and calendar addresses."""

from uuid import UUID

from django.db.models import Q, QuerySet

from projects import models
from projects.access.actors import Actor
from projects.access.rows import one


def visible_calendar_feeds(actor: Actor) -> QuerySet[models.CalendarFeed]:
    """A member's own calendar addresses: nobody sees another's."""
    return models.CalendarFeed.objects.filter(organisation=actor.organisation, membership=actor.membership)


def calendar_feed_for(actor: Actor, uid: UUID, verb: str = "home.view") -> models.CalendarFeed:
    return one(actor, verb, visible_calendar_feeds(actor), uid)


def visible_memberships(actor: Actor) -> QuerySet[models.Membership]:
    return models.Membership.objects.filter(organisation=actor.organisation)


def membership_for(actor: Actor, uid: UUID, verb: str = "people.view") -> models.Membership:
    return one(actor, verb, visible_memberships(actor).select_related("person", "user"), uid)


def visible_field_passes(actor: Actor) -> QuerySet[models.FieldPass]:
    rows = models.FieldPass.objects.filter(organisation=actor.organisation)
    if actor.project_ids is None:
        return rows
    counts = Q(round_grants__round__project_id__in=actor.project_ids)
    works = Q(work_projects__project_id__in=actor.project_ids)
    return rows.filter(counts | works).distinct()


def field_pass_for(actor: Actor, uid: UUID, verb: str = "field_pass.view") -> models.FieldPass:
    return one(actor, verb, visible_field_passes(actor).select_related("person"), uid)


def visible_jobs(actor: Actor) -> QuerySet[models.Job]:
    """Long work of the organisation; a limited lead sees what they began, since it may be of any project."""
    rows = models.Job.objects.filter(organisation=actor.organisation)
    return rows if actor.project_ids is None else rows.filter(created_by=actor.person)


def job_for(actor: Actor, uid: UUID, verb: str = "job.view") -> models.Job:
    return one(actor, verb, visible_jobs(actor), uid)


def visible_history(actor: Actor) -> QuerySet[models.HistoryEntry]:
    return models.HistoryEntry.objects.filter(organisation=actor.organisation).select_related("person")


def visible_reminders(actor: Actor) -> QuerySet[models.Reminder]:
    rows = models.Reminder.objects.filter(organisation=actor.organisation)
    return rows if actor.project_ids is None else rows.filter(project_id__in=actor.project_ids)

"""Planting days, cohorts, crew days, walks, aftercare, and the rules of a day."""

from uuid import UUID

from django.db.models import Q, QuerySet

from projects import models
from projects.access.actors import Actor
from projects.access.places import in_visible_projects, visible_on_sites
from projects.access.rows import one


def visible_planting_days(actor: Actor) -> QuerySet[models.PlantingDay]:
    return in_visible_projects(actor, models.PlantingDay.objects.all(), "block__project_id")


def planting_day_for(actor: Actor, uid: UUID, verb: str = "planting.view") -> models.PlantingDay:
    return one(actor, verb, visible_planting_days(actor).select_related("block", "lot", "cohort"), uid)


def visible_care_tasks(actor: Actor) -> QuerySet[models.CareTask]:
    return in_visible_projects(actor, models.CareTask.objects.all(), "block__project_id")


def care_task_for(actor: Actor, uid: UUID, verb: str = "care.view") -> models.CareTask:
    return one(actor, verb, visible_care_tasks(actor).select_related("block__site", "block__project"), uid)


def planting_window_for(actor: Actor, uid: UUID, verb: str = "block.view") -> models.PlantingWindow:
    rows = in_visible_projects(actor, models.PlantingWindow.objects.all(), "block__project_id")
    return one(actor, verb, rows.select_related("block__site", "block__project"), uid)


def visible_day_rules(actor: Actor) -> QuerySet[models.DayRule]:
    """Rules of a planting day: the organisation's own, and those of projects the actor may read."""
    rows = models.DayRule.objects.filter(organisation=actor.organisation)
    if actor.project_ids is None:
        return rows
    return rows.filter(Q(project=None) | Q(project_id__in=actor.project_ids))


def day_rule_for(actor: Actor, uid: UUID, verb: str = "day_rule.view") -> models.DayRule:
    return one(actor, verb, visible_day_rules(actor).select_related("project"), uid)


def visible_cohorts(actor: Actor) -> QuerySet[models.Cohort]:
    return in_visible_projects(actor, models.Cohort.objects.all(), "block__project_id")


def cohort_for(actor: Actor, uid: UUID, verb: str = "planting.view") -> models.Cohort:
    return one(actor, verb, visible_cohorts(actor).select_related("block", "lot", "season", "species"), uid)


def visible_crew_days(actor: Actor) -> QuerySet[models.CrewDay]:
    return in_visible_projects(actor, models.CrewDay.objects.all(), "block__project_id")


def crew_day_for(actor: Actor, uid: UUID, verb: str = "planting.view") -> models.CrewDay:
    rows = visible_crew_days(actor).select_related("block__site", "block__project", "lead", "decided_by")
    return one(actor, verb, rows, uid)


def visible_quality_checks(actor: Actor) -> QuerySet[models.QualityCheck]:
    return in_visible_projects(actor, models.QualityCheck.objects.all(), "block__project_id")


def quality_check_for(actor: Actor, uid: UUID, verb: str = "planting.view") -> models.QualityCheck:
    return one(actor, verb, visible_quality_checks(actor).select_related("block__site", "crew_day"), uid)


def visible_site_events(actor: Actor) -> QuerySet[models.SiteEvent]:
    return visible_on_sites(actor, models.SiteEvent.objects.all())


def site_event_for(actor: Actor, uid: UUID, verb: str = "walk.view") -> models.SiteEvent:
    return one(actor, verb, visible_site_events(actor).select_related("site"), uid)


def visible_walks(actor: Actor) -> QuerySet[models.Walk]:
    return in_visible_projects(actor, models.Walk.objects.all(), "block__project_id")


def walk_for(actor: Actor, uid: UUID, verb: str = "walk.view") -> models.Walk:
    return one(actor, verb, visible_walks(actor).select_related("block__site", "block__project"), uid)

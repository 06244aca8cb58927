"""Projects, sites, blocks, holdings, seasons, and what was found out about a site."""

from uuid import UUID

from django.db.models import Q, QuerySet

from projects import models
from projects.access.actors import Actor
from projects.access.rows import one


def visible_projects(actor: Actor) -> QuerySet[models.Project]:
    """Projects this actor may read. Every list and look-up of a project's things starts here."""
    rows = models.Project.objects.filter(organisation=actor.organisation)
    return rows if actor.project_ids is None else rows.filter(id__in=actor.project_ids)


def project_for(actor: Actor, uid: UUID, verb: str = "project.view") -> models.Project:
    return one(actor, verb, visible_projects(actor), uid)


def in_visible_projects(actor: Actor, rows: QuerySet, path: str = "project_id") -> QuerySet:
    """Limit rows of the organisation to those whose project the actor may read."""
    rows = rows.filter(organisation=actor.organisation)
    return rows if actor.project_ids is None else rows.filter(**{f"{path}__in": actor.project_ids})


def visible_sites(actor: Actor) -> QuerySet[models.Site]:
    """Sites of the organisation; for a limited actor those with a block of a granted project."""
    rows = models.Site.objects.filter(organisation=actor.organisation)
    if actor.project_ids is None:
        return rows
    return rows.filter(id__in=visible_blocks(actor).values("site_id"))


def site_for(actor: Actor, uid: UUID, verb: str = "site.view") -> models.Site:
    return one(actor, verb, visible_sites(actor), uid)


def visible_blocks(actor: Actor) -> QuerySet[models.Block]:
    return in_visible_projects(actor, models.Block.objects.all())


def block_for(actor: Actor, uid: UUID, verb: str = "block.view") -> models.Block:
    return one(actor, verb, visible_blocks(actor).select_related("site", "project"), uid)


def visible_holdings(actor: Actor) -> QuerySet[models.Holding]:
    return in_visible_projects(actor, models.Holding.objects.all(), "block__project_id")


def visible_seasons(actor: Actor) -> QuerySet[models.Season]:
    return models.Season.objects.filter(organisation=actor.organisation)


def season_for(actor: Actor, uid: UUID, verb: str = "season.view") -> models.Season:
    return one(actor, verb, visible_seasons(actor), uid)


def visible_on_sites(actor: Actor, rows: QuerySet) -> QuerySet:
    """Limit rows of the organisation to those of sites the actor may read."""
    return rows.filter(organisation=actor.organisation, site__in=visible_sites(actor))


def visible_findings(actor: Actor, rows: QuerySet) -> QuerySet:
    """Limit soil samples or circles to visible sites and, where they name a block, to visible blocks."""
    rows = visible_on_sites(actor, rows)
    if actor.project_ids is None:
        return rows
    return rows.filter(Q(block__isnull=True) | Q(block__in=visible_blocks(actor)))


def assessment_for(actor: Actor, uid: UUID, verb: str = "assessment.view") -> models.SiteAssessment:
    rows = visible_on_sites(actor, models.SiteAssessment.objects.select_related("site"))
    return one(actor, verb, rows, uid)


def visible_soil_samples(actor: Actor) -> QuerySet[models.SoilSample]:
    return visible_findings(actor, models.SoilSample.objects.select_related("site", "block"))


def soil_sample_for(actor: Actor, uid: UUID, verb: str = "assessment.view") -> models.SoilSample:
    return one(actor, verb, visible_soil_samples(actor), uid)


def visible_circles(actor: Actor) -> QuerySet[models.RegenerationCircle]:
    return visible_findings(actor, models.RegenerationCircle.objects.select_related("site", "block"))


def circle_for(actor: Actor, uid: UUID, verb: str = "assessment.view") -> models.RegenerationCircle:
    return one(actor, verb, visible_circles(actor), uid)


def visible_consents(actor: Actor) -> QuerySet[models.Consent]:
    return visible_on_sites(actor, models.Consent.objects.select_related("site"))


def consent_for(actor: Actor, uid: UUID, verb: str = "assessment.view") -> models.Consent:
    return one(actor, verb, visible_consents(actor), uid)


def visible_overrides(actor: Actor) -> QuerySet[models.ReadinessOverride]:
    rows = models.ReadinessOverride.objects.select_related("site", "approved_by")
    return visible_on_sites(actor, rows)


def override_for(actor: Actor, uid: UUID, verb: str = "assessment.view") -> models.ReadinessOverride:
    return one(actor, verb, visible_overrides(actor), uid)

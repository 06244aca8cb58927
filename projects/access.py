"""Who is asking, and the only ways to reach a row: one queryset and one getter per concept.

Getters answer 404 for what the actor may not see and 403 for what the actor may see but not do.
"""

from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import Q, QuerySet
from django.http import Http404
from django.utils.translation import gettext as _

from projects import models, policy


@dataclass(frozen=True)
class Actor:
    """Who is asking: a member, an enrolled phone, or a command run by the service itself."""

    label: str
    organisation: models.Organisation
    role: str
    person: models.Person | None = None
    membership: models.Membership | None = None
    field_pass: models.FieldPass | None = None
    project_ids: frozenset[int] | None = field(default=None)  # None = every project

    def may(self, verb: str) -> bool:
        """Say whether this actor's role includes a verb."""
        return policy.allows(self.role, verb)

    def require(self, verb: str) -> None:
        """Refuse with 403 unless the role includes the verb."""
        if not self.may(verb):
            raise PermissionDenied(_("Your role in this organisation does not include this."))


def member_actor(membership: models.Membership) -> Actor:
    """Return the actor of a signed-in member, limited to granted projects where the role asks it."""
    grants = frozenset(membership.grants.values_list("project_id", flat=True))
    limited = membership.role in policy.LIMITED_BY_GRANT or (
        membership.role == models.Role.FIELD_LEAD and grants
    )
    return Actor(
        label=membership.role,
        organisation=membership.organisation,
        role=membership.role,
        person=membership.person,
        membership=membership,
        project_ids=grants if limited else None,
    )


def field_pass_actor(field_pass: models.FieldPass, project_ids: frozenset[int]) -> Actor:
    """Return the actor of an enrolled phone: a volunteer in the projects of its rounds."""
    return Actor(
        label="phone",
        organisation=field_pass.organisation,
        role=models.Role.VOLUNTEER,
        person=field_pass.person,
        field_pass=field_pass,
        project_ids=project_ids,
    )


def service_actor(organisation: models.Organisation, label: str = "service") -> Actor:
    """Return the actor of the service's own commands and jobs."""
    return Actor(label=label, organisation=organisation, role=models.Role.MANAGER)


def memberships_of(user: Any) -> QuerySet[models.Membership]:
    """Current memberships of a sign-in, the organisation in the same query."""
    return (
        models.Membership.objects.filter(user=user, ended_at__isnull=True)
        .select_related("organisation", "person")
        .order_by("organisation__name")
    )


def get_or_404(rows: QuerySet, **lookup: Any) -> Any:
    """Return one row of a queryset that was already limited to what may be seen, else 404."""
    try:
        return rows.get(**lookup)
    except (rows.model.DoesNotExist, ValueError) as missing:
        raise Http404(_("There is nothing at this address.")) from missing


def _one(actor: Actor, verb: str, rows: QuerySet, uid: UUID) -> Any:
    row = get_or_404(rows, uid=uid)
    actor.require(verb)
    return row


# --- projects -------------------------------------------------------------------------------
def visible_projects(actor: Actor) -> QuerySet[models.Project]:
    """Projects this actor may read. Every list and look-up of a project's things starts here."""
    rows = models.Project.objects.filter(organisation=actor.organisation)
    return rows if actor.project_ids is None else rows.filter(id__in=actor.project_ids)


def project_for(actor: Actor, uid: UUID, verb: str = "project.view") -> models.Project:
    return _one(actor, verb, visible_projects(actor), uid)


def in_visible_projects(actor: Actor, rows: QuerySet, path: str = "project_id") -> QuerySet:
    """Limit rows of the organisation to those whose project the actor may read."""
    rows = rows.filter(organisation=actor.organisation)
    return rows if actor.project_ids is None else rows.filter(**{f"{path}__in": actor.project_ids})


# --- places ---------------------------------------------------------------------------------
def visible_sites(actor: Actor) -> QuerySet[models.Site]:
    """Sites of the organisation; for a limited actor those with a block of a granted project."""
    rows = models.Site.objects.filter(organisation=actor.organisation)
    if actor.project_ids is None:
        return rows
    return rows.filter(id__in=visible_blocks(actor).values("site_id"))


def site_for(actor: Actor, uid: UUID, verb: str = "site.view") -> models.Site:
    return _one(actor, verb, visible_sites(actor), uid)


def visible_blocks(actor: Actor) -> QuerySet[models.Block]:
    return in_visible_projects(actor, models.Block.objects.all())


def block_for(actor: Actor, uid: UUID, verb: str = "block.view") -> models.Block:
    return _one(actor, verb, visible_blocks(actor).select_related("site", "project"), uid)


def visible_holdings(actor: Actor) -> QuerySet[models.Holding]:
    return in_visible_projects(actor, models.Holding.objects.all(), "block__project_id")


def visible_seasons(actor: Actor) -> QuerySet[models.Season]:
    return models.Season.objects.filter(organisation=actor.organisation)


def season_for(actor: Actor, uid: UUID, verb: str = "season.view") -> models.Season:
    return _one(actor, verb, visible_seasons(actor), uid)


# --- what was found out about a site ----------------------------------------------------------
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
    return _one(actor, verb, rows, uid)


def visible_soil_samples(actor: Actor) -> QuerySet[models.SoilSample]:
    return visible_findings(actor, models.SoilSample.objects.select_related("site", "block"))


def soil_sample_for(actor: Actor, uid: UUID, verb: str = "assessment.view") -> models.SoilSample:
    return _one(actor, verb, visible_soil_samples(actor), uid)


def visible_circles(actor: Actor) -> QuerySet[models.RegenerationCircle]:
    return visible_findings(actor, models.RegenerationCircle.objects.select_related("site", "block"))


def circle_for(actor: Actor, uid: UUID, verb: str = "assessment.view") -> models.RegenerationCircle:
    return _one(actor, verb, visible_circles(actor), uid)


def visible_consents(actor: Actor) -> QuerySet[models.Consent]:
    return visible_on_sites(actor, models.Consent.objects.select_related("site"))


def consent_for(actor: Actor, uid: UUID, verb: str = "assessment.view") -> models.Consent:
    return _one(actor, verb, visible_consents(actor), uid)


def visible_overrides(actor: Actor) -> QuerySet[models.ReadinessOverride]:
    rows = models.ReadinessOverride.objects.select_related("site", "approved_by")
    return visible_on_sites(actor, rows)


def override_for(actor: Actor, uid: UUID, verb: str = "assessment.view") -> models.ReadinessOverride:
    return _one(actor, verb, visible_overrides(actor), uid)


# --- stock and planting ---------------------------------------------------------------------
def visible_nurseries(actor: Actor) -> QuerySet[models.Nursery]:
    return models.Nursery.objects.filter(organisation=actor.organisation)


def nursery_for(actor: Actor, uid: UUID, verb: str = "nursery.view") -> models.Nursery:
    return _one(actor, verb, visible_nurseries(actor), uid)


def visible_lots(actor: Actor) -> QuerySet[models.StockLot]:
    """Lots of the organisation; a limited lead sees those planted in, or ordered for, a granted project."""
    rows = models.StockLot.objects.filter(organisation=actor.organisation)
    if actor.project_ids is None:
        return rows
    ids = actor.project_ids
    return rows.filter(
        Q(cohorts__block__project_id__in=ids) | Q(delivery__order__project_id__in=ids)
    ).distinct()


def lot_for(actor: Actor, uid: UUID, verb: str = "lot.view") -> models.StockLot:
    return _one(actor, verb, visible_lots(actor).select_related("nursery", "species"), uid)


def visible_orders(actor: Actor) -> QuerySet[models.StockOrder]:
    return in_visible_projects(actor, models.StockOrder.objects.all())


def order_for(actor: Actor, uid: UUID, verb: str = "order.view") -> models.StockOrder:
    return _one(actor, verb, visible_orders(actor).select_related("nursery", "project"), uid)


def visible_planting_days(actor: Actor) -> QuerySet[models.PlantingDay]:
    return in_visible_projects(actor, models.PlantingDay.objects.all(), "block__project_id")


def planting_day_for(actor: Actor, uid: UUID, verb: str = "planting.view") -> models.PlantingDay:
    return _one(actor, verb, visible_planting_days(actor).select_related("block", "lot", "cohort"), uid)


def visible_care_tasks(actor: Actor) -> QuerySet[models.CareTask]:
    return in_visible_projects(actor, models.CareTask.objects.all(), "block__project_id")


def care_task_for(actor: Actor, uid: UUID, verb: str = "care.view") -> models.CareTask:
    return _one(actor, verb, visible_care_tasks(actor).select_related("block__site", "block__project"), uid)


def planting_window_for(actor: Actor, uid: UUID, verb: str = "block.view") -> models.PlantingWindow:
    rows = in_visible_projects(actor, models.PlantingWindow.objects.all(), "block__project_id")
    return _one(actor, verb, rows.select_related("block__site", "block__project"), uid)


def visible_day_rules(actor: Actor) -> QuerySet[models.DayRule]:
    """Rules of a planting day: the organisation's own, and those of projects the actor may read."""
    rows = models.DayRule.objects.filter(organisation=actor.organisation)
    if actor.project_ids is None:
        return rows
    return rows.filter(Q(project=None) | Q(project_id__in=actor.project_ids))


def day_rule_for(actor: Actor, uid: UUID, verb: str = "day_rule.view") -> models.DayRule:
    return _one(actor, verb, visible_day_rules(actor).select_related("project"), uid)


def visible_budget_lines(actor: Actor) -> QuerySet[models.BudgetLine]:
    return in_visible_projects(actor, models.BudgetLine.objects.all())


def budget_line_for(actor: Actor, uid: UUID, verb: str = "project.view") -> models.BudgetLine:
    return _one(actor, verb, visible_budget_lines(actor).select_related("project", "season", "block"), uid)


def visible_cohorts(actor: Actor) -> QuerySet[models.Cohort]:
    return in_visible_projects(actor, models.Cohort.objects.all(), "block__project_id")


def cohort_for(actor: Actor, uid: UUID, verb: str = "planting.view") -> models.Cohort:
    return _one(actor, verb, visible_cohorts(actor).select_related("block", "lot", "season", "species"), uid)


# --- plans ----------------------------------------------------------------------------------
def visible_plans(actor: Actor) -> QuerySet[models.Plan]:
    return in_visible_projects(actor, models.Plan.objects.all())


def plan_for(actor: Actor, uid: UUID, verb: str = "plan.view") -> models.Plan:
    rows = visible_plans(actor).select_related("project", "season", "second_season", "approved_by")
    return _one(actor, verb, rows, uid)


def visible_mix_lines(actor: Actor) -> QuerySet[models.MixLine]:
    return in_visible_projects(actor, models.MixLine.objects.all(), "plan__project_id")


def mix_line_for(actor: Actor, uid: UUID, verb: str = "plan.view") -> models.MixLine:
    rows = visible_mix_lines(actor).select_related("plan__project", "block__site", "species")
    return _one(actor, verb, rows, uid)


def visible_offers(actor: Actor) -> QuerySet[models.StockOffer]:
    """Price lists are the organisation's, not a project's."""
    return models.StockOffer.objects.filter(organisation=actor.organisation)


def offer_for(actor: Actor, uid: UUID, verb: str = "nursery.view") -> models.StockOffer:
    return _one(actor, verb, visible_offers(actor).select_related("nursery", "species"), uid)


def visible_survival_priors(actor: Actor) -> QuerySet[models.SurvivalPrior]:
    """Survival stated for the organisation and for the projects this actor may read."""
    rows = models.SurvivalPrior.objects.filter(organisation=actor.organisation)
    if actor.project_ids is None:
        return rows
    return rows.filter(Q(project__isnull=True) | Q(project_id__in=actor.project_ids))


def survival_prior_for(actor: Actor, uid: UUID, verb: str = "plan.view") -> models.SurvivalPrior:
    return _one(actor, verb, visible_survival_priors(actor).select_related("project", "species"), uid)


def visible_purposes(actor: Actor) -> QuerySet[models.ProjectPurpose]:
    return in_visible_projects(actor, models.ProjectPurpose.objects.all())


def visible_benefits(actor: Actor) -> QuerySet[models.ExpectedBenefit]:
    return in_visible_projects(actor, models.ExpectedBenefit.objects.all())


def benefit_for(actor: Actor, uid: UUID, verb: str = "plan.view") -> models.ExpectedBenefit:
    return _one(actor, verb, visible_benefits(actor).select_related("project", "consent", "species"), uid)


def visible_seed_trees(actor: Actor) -> QuerySet[models.SeedTree]:
    return models.SeedTree.objects.filter(site__in=visible_sites(actor))


def seed_tree_for(actor: Actor, uid: UUID, verb: str = "seed.view") -> models.SeedTree:
    return _one(actor, verb, visible_seed_trees(actor).select_related("site", "species"), uid)


def visible_seed_collections(actor: Actor) -> QuerySet[models.SeedCollection]:
    return models.SeedCollection.objects.filter(site__in=visible_sites(actor))


def seed_collection_for(actor: Actor, uid: UUID, verb: str = "seed.view") -> models.SeedCollection:
    return _one(actor, verb, visible_seed_collections(actor).select_related("site", "species"), uid)


# --- people ---------------------------------------------------------------------------------
def visible_memberships(actor: Actor) -> QuerySet[models.Membership]:
    return models.Membership.objects.filter(organisation=actor.organisation)


def membership_for(actor: Actor, uid: UUID, verb: str = "people.view") -> models.Membership:
    return _one(actor, verb, visible_memberships(actor).select_related("person", "user"), uid)


def visible_field_passes(actor: Actor) -> QuerySet[models.FieldPass]:
    rows = models.FieldPass.objects.filter(organisation=actor.organisation)
    if actor.project_ids is None:
        return rows
    return rows.filter(round_grants__round__project_id__in=actor.project_ids).distinct()


def field_pass_for(actor: Actor, uid: UUID, verb: str = "field_pass.view") -> models.FieldPass:
    return _one(actor, verb, visible_field_passes(actor).select_related("person"), uid)


def visible_jobs(actor: Actor) -> QuerySet[models.Job]:
    """Long work of the organisation; a limited lead sees what they began, since it may be of any project."""
    rows = models.Job.objects.filter(organisation=actor.organisation)
    return rows if actor.project_ids is None else rows.filter(created_by=actor.person)


def job_for(actor: Actor, uid: UUID, verb: str = "job.view") -> models.Job:
    return _one(actor, verb, visible_jobs(actor), uid)


def visible_history(actor: Actor) -> QuerySet[models.HistoryEntry]:
    return models.HistoryEntry.objects.filter(organisation=actor.organisation).select_related("person")


def visible_reminders(actor: Actor) -> QuerySet[models.Reminder]:
    rows = models.Reminder.objects.filter(organisation=actor.organisation)
    return rows if actor.project_ids is None else rows.filter(project_id__in=actor.project_ids)

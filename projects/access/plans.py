"""Plans, price lists, money, gains and seed."""

from uuid import UUID

from django.db.models import Q, QuerySet

from projects import models
from projects.access.actors import Actor
from projects.access.places import in_visible_projects, visible_sites
from projects.access.rows import one


def visible_budget_lines(actor: Actor) -> QuerySet[models.BudgetLine]:
    return in_visible_projects(actor, models.BudgetLine.objects.all())


def budget_line_for(actor: Actor, uid: UUID, verb: str = "project.view") -> models.BudgetLine:
    return one(actor, verb, visible_budget_lines(actor).select_related("project", "season", "block"), uid)


def visible_plans(actor: Actor) -> QuerySet[models.Plan]:
    return in_visible_projects(actor, models.Plan.objects.all())


def plan_for(actor: Actor, uid: UUID, verb: str = "plan.view") -> models.Plan:
    rows = visible_plans(actor).select_related("project", "season", "second_season", "approved_by")
    return one(actor, verb, rows, uid)


def visible_mix_lines(actor: Actor) -> QuerySet[models.MixLine]:
    return in_visible_projects(actor, models.MixLine.objects.all(), "plan__project_id")


def mix_line_for(actor: Actor, uid: UUID, verb: str = "plan.view") -> models.MixLine:
    rows = visible_mix_lines(actor).select_related("plan__project", "block__site", "species")
    return one(actor, verb, rows, uid)


def visible_offers(actor: Actor) -> QuerySet[models.StockOffer]:
    """Price lists are the organisation's, not a project's."""
    return models.StockOffer.objects.filter(organisation=actor.organisation)


def offer_for(actor: Actor, uid: UUID, verb: str = "nursery.view") -> models.StockOffer:
    return one(actor, verb, visible_offers(actor).select_related("nursery", "species"), uid)


def visible_survival_priors(actor: Actor) -> QuerySet[models.SurvivalPrior]:
    """Survival stated for the organisation and for the projects this actor may read."""
    rows = models.SurvivalPrior.objects.filter(organisation=actor.organisation)
    if actor.project_ids is None:
        return rows
    return rows.filter(Q(project__isnull=True) | Q(project_id__in=actor.project_ids))


def survival_prior_for(actor: Actor, uid: UUID, verb: str = "plan.view") -> models.SurvivalPrior:
    return one(actor, verb, visible_survival_priors(actor).select_related("project", "species"), uid)


def visible_purposes(actor: Actor) -> QuerySet[models.ProjectPurpose]:
    return in_visible_projects(actor, models.ProjectPurpose.objects.all())


def visible_benefits(actor: Actor) -> QuerySet[models.ExpectedBenefit]:
    return in_visible_projects(actor, models.ExpectedBenefit.objects.all())


def benefit_for(actor: Actor, uid: UUID, verb: str = "plan.view") -> models.ExpectedBenefit:
    return one(actor, verb, visible_benefits(actor).select_related("project", "consent", "species"), uid)


def visible_seed_trees(actor: Actor) -> QuerySet[models.SeedTree]:
    return models.SeedTree.objects.filter(site__in=visible_sites(actor))


def seed_tree_for(actor: Actor, uid: UUID, verb: str = "seed.view") -> models.SeedTree:
    return one(actor, verb, visible_seed_trees(actor).select_related("site", "species"), uid)


def visible_seed_collections(actor: Actor) -> QuerySet[models.SeedCollection]:
    return models.SeedCollection.objects.filter(site__in=visible_sites(actor))


def seed_collection_for(actor: Actor, uid: UUID, verb: str = "seed.view") -> models.SeedCollection:
    return one(actor, verb, visible_seed_collections(actor).select_related("site", "species"), uid)

"""The demo's planning: purposes, gains, seed and a draft plan, written through the services a person would use."""

from monitoring.demo import serra_planning as plan
from monitoring.demo.ground import place
from monitoring.demo.shapes import OrganisationPlan
from projects.access import Actor
from projects.models import Block, Consent, Plan, Project, Season, Site
from projects.selectors.mix_rules import PlanRules
from projects.services import benefits, day_rules, mixes, plans, purposes, seed
from species.models import Species


def write_planning(actor: Actor, organisation: OrganisationPlan) -> None:
    """Write what one project is for, what people may gain, what seed was gathered, and what to plant again."""
    project = Project.objects.get(organisation=actor.organisation, name=plan.PROJECT)
    purposes.weigh_purposes(actor=actor, project=project, weights=plan.PURPOSES)
    known = {row.slug: row for row in Species.objects.filter(owner_organisation_uid__isnull=True)}
    write_benefits(actor, project, known)
    write_seed(actor, organisation, known)
    day_rules.start_from(actor=actor, project=None, which=plan.DAY_RULES)
    write_plan(actor, project, known)


def write_benefits(actor: Actor, project: Project, known: dict[str, Species]) -> None:
    consent = Consent.objects.get(organisation=actor.organisation, with_whom=plan.AGREED_WITH)
    for row in plan.BENEFITS:
        species = known[row["species"]] if row["species"] else None
        benefits.add_benefit(
            actor=actor, project=project, **{**row, "species": species}, consent=consent, source=plan.INVENTED
        )


def write_seed(actor: Actor, organisation: OrganisationPlan, known: dict[str, Species]) -> None:
    """Put the seed trees on the site's list and say what each gave to one collection."""
    site = Site.objects.get(organisation=actor.organisation, name=plan.SITE)
    corner, species = organisation.site(plan.SITE), known[plan.CORK]
    trees = []
    for label, east_m, north_m, note in plan.SEED_TREES:
        latitude, longitude = place(corner.latitude, corner.longitude, east_m, north_m)
        trees.append(
            seed.add_tree(
                actor=actor, site=site, species=species, label=label, latitude=latitude, longitude=longitude,
                ripe_from_month=plan.RIPE[0], ripe_to_month=plan.RIPE[1], note=note,
            )
        )  # fmt: skip
    collection = seed.add_collection(actor=actor, site=site, species=species, **plan.SEED_LOT)
    for tree, weight_g in zip(trees, plan.SHARES_G, strict=True):
        seed.add_share(actor=actor, collection=collection, seed_tree=tree, weight_g=weight_g)


def write_plan(actor: Actor, project: Project, known: dict[str, Species]) -> Plan:
    """Begin a draft for one block whose free spots somebody walked and stated."""
    block = Block.objects.get(organisation=actor.organisation, name=plan.BLOCK)
    season = Season.objects.get(organisation=actor.organisation, kind="planting", label=plan.SEASON)
    draft = plans.begin_plan(actor=actor, project=project, title=plan.TITLE, note=plan.NOTE)
    plans.edit_plan(actor=actor, plan=draft, season=season)
    rules = PlanRules(blocks=(str(block.uid),), spots={str(block.uid): plan.FREE_SPOTS})
    mixes.set_rules(actor=actor, plan=draft, rules=rules)
    for slug, stock_type, quantity, price_minor in plan.MIX:
        mixes.add_line(
            actor=actor, plan=draft, block=block, species=known[slug], stock_type=stock_type, quantity=quantity,
            unit_price_minor=price_minor,
        )  # fmt: skip
    return draft

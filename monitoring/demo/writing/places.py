"""Projects, sites, blocks, farms and the seasons' windows and money."""

from datetime import date
from decimal import Decimal

from monitoring.demo.ground import place, polygon
from monitoring.demo.shapes import BlockPlan, OrganisationPlan, SitePlan
from projects.access import Actor
from projects.models import Block, BudgetLine, Layout, PlantingWindow, Project, Season, Site
from projects.services import blocks, holdings, projects, sites

INVENTED = "invented for the demo; not measured anywhere"
DRAWN_ON = date(2023, 10, 1)


def write_projects(actor: Actor, plan: OrganisationPlan) -> None:
    """Begin the projects."""
    for row in plan.projects:
        values = {name: value for name, value in vars(row).items() if name != "target_survival"}
        projects.make_project(
            actor=actor, target_survival=Decimal(row.target_survival), currency=plan.currency, **values
        )


def write_sites(actor: Actor, plan: OrganisationPlan) -> None:
    """Add the sites with their outlines and invented weather."""
    for row in plan.sites:
        sites.make_site(
            actor=actor, name=row.name, country_code=row.country_code, region=row.region, time_zone=row.time_zone,
            boundary=polygon(row.latitude, row.longitude, row.outline_m), elevation_m=row.elevation_m,
            description=row.description, access_notes=row.access_notes, emergency_contact=row.emergency_contact,
            climate_normals=climate(row), climate_source=INVENTED,
        )  # fmt: skip


def climate(row: SitePlan) -> dict[str, object]:
    """Return monthly normals, January first."""
    return {
        "basis": INVENTED, "rain_mm": list(row.rain_mm), "mean_minimum_c": list(row.minimum_c),
        "mean_maximum_c": list(row.maximum_c),
    }  # fmt: skip


def write_blocks(actor: Actor, plan: OrganisationPlan) -> None:
    """Add blocks with their ground, or with their list of farms."""
    known = {row.name: row for row in Project.objects.filter(organisation=actor.organisation)}
    places = {row.name: row for row in Site.objects.filter(organisation=actor.organisation)}
    for row in plan.blocks:
        site = plan.site(row.site)
        drawn = polygon(site.latitude, site.longitude, row.corners_m) if row.corners_m else None
        block = blocks.make_block(
            actor=actor, site=places[row.site], project=known[row.project], geometry=drawn, valid_from=DRAWN_ON,
            exclusions_ha=row.exclusions_ha, name=row.name, layout=Layout.HOLDINGS if row.farms else Layout.GROUND,
            pattern=row.pattern, row_spacing_m=row.row_spacing_m, in_row_spacing_m=row.in_row_spacing_m,
            target_stocking_per_ha=row.target_stocking_per_ha, aspect_note=row.aspect_note, hazards=row.hazards,
        )  # fmt: skip
        write_farms(actor, row, site, block)


def write_farms(actor: Actor, row: BlockPlan, site: SitePlan, block: Block) -> None:
    """List the farms of a block; nobody's name is kept, in the demo nobody has one."""
    for farm in row.farms:
        latitude, longitude = place(site.latitude, site.longitude, farm.east_m, farm.north_m)
        holdings.make_holding(
            actor=actor, block=block, label=farm.label, latitude=latitude, longitude=longitude,
            trees_received=sum(farm.trees.values()),
        )  # fmt: skip


def write_windows_and_money(actor: Actor, plan: OrganisationPlan) -> None:
    """Add the coming windows and the budget; no service writes these two yet."""
    organisation = actor.organisation
    known = {row.name: row for row in Block.objects.filter(organisation=organisation)}
    for window in plan.windows:
        values = {name: value for name, value in vars(window).items() if name != "block"}
        PlantingWindow.objects.create(organisation=organisation, block=known[window.block], **values)
    projects_by_name = {row.name: row for row in Project.objects.filter(organisation=organisation)}
    seasons = {row.label: row for row in Season.objects.filter(organisation=organisation, kind="planting")}
    for line in plan.budget:
        BudgetLine.objects.create(
            organisation=organisation, project=projects_by_name[line.project], season=seasons[line.season],
            kind=line.kind, what=line.what, planned_minor=line.planned_minor, spent_minor=line.spent_minor,
            currency=plan.currency,
        )  # fmt: skip

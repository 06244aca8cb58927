"""Sites, projects, blocks and holdings, read for their pages."""

from typing import Any

from django.db.models import Max, Min, Prefetch, Q, QuerySet, Sum
from django.urls import reverse

from projects import access
from projects.access import Actor
from projects.calc.geometry import share_outside
from projects.calc.spacing import pattern_per_ha, square_spacing_m
from projects.countries import country_name
from projects.models import Block, BlockGround, Cohort, LotMovement, PlantingDay, Project, Site, Unit
from projects.paging import Page
from projects.selectors.grounds import planted_by_season, sums_by_site, with_ground

NOTHING = {"blocks": 0, "net_area_ha": 0.0, "trees": 0, "spots": 0}
WORTH_SAYING = 0.005  # a share outside the site below this is the width of a pen


def site_rows(actor: Actor, page: Page) -> list[dict[str, Any]]:
    """Return the page's sites with their blocks, area and trees."""
    blocks = access.visible_blocks(actor).filter(site_id__in=[site.pk for site in page.rows])
    sums = sums_by_site(blocks)
    return [
        {"site": site, "country": country_name(site.country_code), **sums.get(site.pk, NOTHING)}
        for site in page.rows
    ]


def site_blocks(actor: Actor, site: Site) -> QuerySet[Block]:
    """Return the site's blocks the actor may read, with area and trees, those in use first."""
    blocks = access.visible_blocks(actor).filter(site=site).select_related("project")
    return with_ground(blocks).order_by("archived_at", "name", "id")


def site_seasons(actor: Actor, site: Site) -> list[dict[str, Any]]:
    """Return what was planted at a site, season by season."""
    return list(planted_by_season(access.visible_planting_days(actor).filter(block__site=site)))


def site_shapes(actor: Actor, site: Site, *, blocks: bool = True) -> dict[str, Any]:
    """Return the site's boundary and its blocks as a GeoJSON collection for a map."""
    features = [_feature(site.boundary, "site", site.name)] if site.boundary else []
    if blocks:
        rows = access.visible_blocks(actor).filter(site=site, archived_at__isnull=True).order_by("id")
        features += [_block_feature(actor, block) for block in with_grounds(rows) if shape_of(block)]
    return {"type": "FeatureCollection", "features": features}


def _block_feature(actor: Actor, block: Block) -> dict[str, Any]:
    url = reverse("projects:block_detail", kwargs={"org": actor.organisation.slug, "uid": block.uid})
    return _feature(shape_of(block), "block", block.name, url)


def _feature(geometry: Any, kind: str, name: str, url: str = "") -> dict[str, Any]:
    return {"type": "Feature", "geometry": geometry, "properties": {"kind": kind, "name": name, "url": url}}


def with_grounds(blocks: QuerySet[Block]) -> QuerySet[Block]:
    """Fetch every version of the blocks' ground, newest first, in one query."""
    return blocks.prefetch_related(Prefetch("grounds", queryset=BlockGround.objects.order_by("-version")))


def ground_of(block: Block) -> BlockGround | None:
    """Return the current ground of a block, or None."""
    return next(iter(block.grounds.all()), None)


def shape_of(block: Block) -> dict[str, Any] | None:
    """Return the current geometry of a block, or None."""
    ground = ground_of(block)
    return ground.geometry if ground else None


def outside_share(block: Block, ground: BlockGround | None) -> float | None:
    """Return the share of a drawn block outside its drawn site where it is worth saying, else None."""
    if ground is None or not ground.geometry or not block.site.boundary:
        return None
    share = share_outside(ground.geometry, block.site.boundary)
    return share if share >= WORTH_SAYING else None


def spacing_facts(block: Block, net_area_ha: float | None) -> dict[str, Any]:
    """Return what the block's spacing gives: spots per hectare, spots in all, and the target's square spacing."""
    per_ha = pattern_per_ha(block.pattern, block.row_spacing_m, block.in_row_spacing_m)
    target = block.target_stocking_per_ha or block.project.target_stocking_per_ha
    return {
        "per_ha": per_ha,
        "spots": None if per_ha is None or net_area_ha is None else round(per_ha * net_area_ha),
        "target_per_ha": target,
        "target_is_own": bool(block.target_stocking_per_ha),
        "target_spacing_m": square_spacing_m(target) if target else None,
    }


def block_cohorts(block: Block) -> QuerySet[Cohort]:
    """Return a block's cohorts with what was planted of each and on which days."""
    return with_planted(
        block.cohorts.select_related("species", "lot", "season", "replaces__species")
    ).order_by("season__starts_on", "id")


def with_planted(cohorts: QuerySet[Cohort]) -> QuerySet[Cohort]:
    """Add the number planted to cohorts; taken-back days are left out."""
    counted = Q(planting_days__voided_at__isnull=True)
    return cohorts.annotate(
        planted=Sum("planting_days__quantity", filter=counted),
        first_on=Min("planting_days__planted_on", filter=counted),
        last_on=Max("planting_days__planted_on", filter=counted),
    )


def project_rows(actor: Actor, page: Page) -> list[dict[str, Any]]:
    """Return the page's projects with their blocks and trees."""
    blocks = access.visible_blocks(actor).filter(project_id__in=[project.pk for project in page.rows])
    rows = with_ground(blocks.filter(archived_at__isnull=True)).values(
        "project_id", "net_area_ha", "planted_trees"
    )
    sums: dict[int, dict[str, float]] = {}
    for row in rows:
        total = sums.setdefault(row["project_id"], {"blocks": 0, "net_area_ha": 0.0, "trees": 0})
        total["blocks"] += 1
        total["net_area_ha"] += row["net_area_ha"] or 0.0
        total["trees"] += row["planted_trees"]
    return [{"project": project, **sums.get(project.pk, NOTHING)} for project in page.rows]


def project_blocks(actor: Actor, project: Project) -> QuerySet[Block]:
    """Return a project's blocks with area and trees, site by site."""
    blocks = access.visible_blocks(actor).filter(project=project).select_related("site")
    return with_ground(blocks).order_by("archived_at", "site__name", "name", "id")


def holding_rows(block: Block) -> list[dict[str, Any]]:
    """Return a block's holdings with the trees planted on each and given out to each."""
    planted = _sums(PlantingDay.objects.filter(block=block, cohort__unit=Unit.TREE))
    given = _sums(LotMovement.objects.filter(holding__block=block, kind="given_out"))
    return [
        {"holding": holding, "planted": planted.get(holding.pk, 0), "given_out": given.get(holding.pk, 0)}
        for holding in block.holdings.select_related("person").order_by("label", "id")
    ]


def _sums(rows: QuerySet) -> dict[int, int]:
    counted = rows.filter(voided_at__isnull=True, holding__isnull=False).order_by()
    return dict(counted.values_list("holding_id").annotate(total=Sum("quantity")))


def block_shapes(block: Block, ground: BlockGround | None) -> dict[str, Any]:
    """Return the site's boundary and the block's ground as a GeoJSON collection for a map."""
    features = [_feature(block.site.boundary, "site", block.site.name)] if block.site.boundary else []
    if ground is not None and ground.geometry:
        features.append(_feature(ground.geometry, "block", block.name))
    return {"type": "FeatureCollection", "features": features}

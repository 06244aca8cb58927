"""Carbon as a range for each site whose ecological zone was chosen; nothing for the others."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from projects import access, carbon_words
from projects.access import Actor
from projects.calc import carbon as calc
from projects.calc.benefits import Range
from projects.models import Project, Site
from projects.selectors.expected_living import ExpectedLiving
from projects.selectors.grounds import with_ground


@dataclass(frozen=True)
class SiteCarbon:
    """A site with its range, or with what is missing.

    Attributes
    ----------
    zone : words of the chosen zone, empty where none is chosen.
    found : the range; None where no zone is chosen, no tree is expected or no area is known.
    area_ha, stocked : net area of the blocks that are planted there, and the share of the wanted stocking expected
        to live.
    is_wanted_known : whether a target stocking says what full is; otherwise survival stands in for the share.
    growth, roots, source : what it rests on.
    """

    site: Site
    zone: str = ""
    found: calc.CarbonRange | None = None
    area_ha: float | None = None
    stocked: Range | None = None
    is_wanted_known: bool = False
    growth: Range | None = None
    older: Range | None = None
    roots: Range | None = None
    source: Any = carbon_words.SOURCE

    @property
    def co2(self) -> Range | None:
        """The range as it is told: two leading digits, since more would pretend to be known."""
        return None if self.found is None else calc.rounded_outward(self.found.co2)

    @property
    def shoots(self) -> Range | None:
        return None if self.found is None else calc.rounded_outward(self.found.dry_matter)

    @property
    def whole(self) -> Range | None:
        return None if self.found is None else calc.rounded_outward(self.found.with_roots)


def project_carbon(
    actor: Actor, project: Project, living: ExpectedLiving, inputs: Mapping[str, Any]
) -> Sequence[SiteCarbon]:
    """Reckon each site of a project; `inputs` as the carbon form gives them; two queries."""
    blocks: list[Any] = list(
        with_ground(
            access.visible_blocks(actor).filter(project=project, archived_at__isnull=True)
        ).select_related("site")
    )
    sites = {block.site_id: block.site for block in blocks}
    planted = {kind.block_id for kind in living.kinds}
    blocks = [block for block in blocks if block.pk in planted]
    return [
        _of_site(site, [block for block in blocks if block.site_id == site.pk], project, living, inputs)
        for site in sorted(sites.values(), key=lambda site: (site.name, site.pk))
    ]


def _of_site(
    site: Site, blocks: Sequence[Any], project: Project, living: ExpectedLiving, inputs: Mapping[str, Any]
) -> SiteCarbon:
    zone = calc.ZONES.get(site.ecological_zone)
    if zone is None:
        return SiteCarbon(site)
    words = str(carbon_words.ZONES[site.ecological_zone])
    areas = [block.net_area_ha for block in blocks]
    stocked, is_wanted_known = _stocked(site, blocks, project, living)
    if None in areas or stocked is None:
        return SiteCarbon(site, words)
    growth, source = _growth(zone, inputs)
    area = sum(areas)
    found = calc.carbon_range(growth, zone.roots, inputs["years"], area, stocked)
    return SiteCarbon(
        site, words, found, area, stocked, is_wanted_known, growth.young,
        growth.older if inputs["years"] > calc.YOUNG_UNTIL_YEAR else None, zone.roots, source,
    )  # fmt: skip


def _growth(zone: calc.Zone, inputs: Mapping[str, Any]) -> tuple[calc.Growth, Any]:
    low, high = inputs["growth_low"], inputs["growth_high"]
    if low is not None and high is not None:
        return calc.Growth(Range(low, high), Range(low, high)), carbon_words.STATED
    return zone.natural if inputs["forest"] == calc.NATURAL else zone.planted, carbon_words.SOURCE


def _stocked(
    site: Site, blocks: Sequence[Any], project: Project, living: ExpectedLiving
) -> tuple[Range | None, bool]:
    """Share of the wanted stocking expected alive; without a target, the share of the planted trees."""
    trees = living.of(site_id=site.pk)
    planted = sum(kind.trees for kind in living.kinds if kind.site_id == site.pk)
    if not planted:
        return None, False
    targets = [block.target_stocking_per_ha or project.target_stocking_per_ha for block in blocks]
    if None in targets or any(block.net_area_ha is None for block in blocks):
        return Range(trees.low / planted, trees.high / planted), False
    area = sum(block.net_area_ha for block in blocks)
    wanted = sum(block.net_area_ha * target for block, target in zip(blocks, targets, strict=True))
    return calc.stocked_share(trees, area, wanted / area), True

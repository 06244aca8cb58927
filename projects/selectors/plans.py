"""Plans as pages show them: a project's versions, and the ground and lines one version is made of."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Count, OuterRef, Subquery, Sum

from projects import access, clocks
from projects.access import Actor
from projects.calc.spacing import pattern_per_ha
from projects.models import Block, BlockGround, Holding, Layout, MixLine, Plan, PlantingDay, Project, Site
from projects.selectors.places import ground_of, with_grounds


@dataclass(frozen=True)
class Ground:
    """One block of the plan's project with what stands in it by this plan.

    `stated` are planting spots stated by hand, or the trees that its holdings receive; else spacing tells them.
    `planted_before` are trees that went in on earlier days: those alive still take spots, and a plan counts none.
    """

    block: Block
    ground: BlockGround | None
    lines: Sequence[MixLine]
    stated: int | None = None
    planted_before: int = 0

    @property
    def net_area_ha(self) -> float | None:
        return self.ground.net_area_ha if self.ground else None

    @property
    def per_ha(self) -> float | None:
        return pattern_per_ha(self.block.pattern, self.block.row_spacing_m, self.block.in_row_spacing_m)

    @property
    def spots(self) -> int | None:
        """Planting spots there are, where they are stated or spacing and area are known."""
        if self.stated:
            return self.stated
        if self.per_ha is None or self.net_area_ha is None:
            return None
        return round(self.per_ha * self.net_area_ha)

    @property
    def planted(self) -> int:
        """Plants of both waves."""
        return sum(line.quantity for line in self.lines)


@dataclass(frozen=True)
class PlanFrame:
    """A plan with its blocks and lines, read once."""

    plan: Plan
    grounds: Sequence[Ground]
    days: dict[int, date] = field(default_factory=dict)  # site id -> the day there

    @property
    def used(self) -> list[Ground]:
        """Blocks that this plan puts something in."""
        return [each for each in self.grounds if each.lines]

    @property
    def meant(self) -> Sequence[Ground]:
        """Blocks the plan is about: those with lines, else every block of the project."""
        return self.used or self.grounds

    @property
    def sites(self) -> list[Site]:
        """Sites of the blocks the plan is about, by name."""
        found = {each.block.site_id: each.block.site for each in self.meant}
        return sorted(found.values(), key=lambda site: (site.name, site.pk))

    @property
    def lines(self) -> list[MixLine]:
        return [line for each in self.grounds for line in each.lines]


def frame_of(actor: Actor, plan: Plan) -> PlanFrame:
    """Read a plan's blocks and lines in three queries; blocks put away are there only with lines of this plan."""
    lines: dict[int, list[MixLine]] = {}
    for line in plan.mix_lines.select_related("species").order_by("wave", "-quantity", "id"):
        lines.setdefault(line.block_id, []).append(line)
    rows = access.visible_blocks(actor).filter(project_id=plan.project_id).select_related("site", "project")
    held = Holding.objects.filter(block=OuterRef("pk")).order_by().values("block")
    rows = rows.annotate(handed=Subquery(held.annotate(n=Sum("trees_received")).values("n")))
    days = PlantingDay.objects.filter(block=OuterRef("pk"), voided_at__isnull=True).order_by().values("block")
    rows = rows.annotate(gone_in=Subquery(days.annotate(n=Sum("quantity")).values("n")))
    by_hand = (plan.mix_rules or {}).get("spots", {})
    grounds = [
        Ground(
            block,
            ground_of(block),
            lines.get(block.pk, ()),
            by_hand.get(str(block.uid)) or _handed(block),
            block.gone_in or 0,
        )
        for block in with_grounds(rows).order_by("site__name", "name", "id")
        if block.archived_at is None or block.pk in lines
    ]
    sites = {each.block.site_id: each.block.site for each in grounds}
    return PlanFrame(plan, grounds, {pk: clocks.today_at(site) for pk, site in sites.items()})


def _handed(block: Block) -> int | None:
    """Trees that a block's holdings receive; None for any other block."""
    return block.handed if block.layout == Layout.HOLDINGS else None


def plan_rows(actor: Actor, project: Project) -> list[Plan]:
    """A project's versions, the newest first, each with its plants and blocks; one query."""
    rows = access.visible_plans(actor).filter(project=project)
    return list(
        rows.select_related("season", "approved_by", "based_on")
        .annotate(plants=Sum("mix_lines__quantity"), blocks=Count("mix_lines__block", distinct=True))
        .order_by("-version")
    )

"""Areas and trees of blocks, read beside their rows so that a list costs one query."""

from django.db.models import Count, F, IntegerField, OuterRef, Q, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from projects.models import Block, BlockGround, PlantingDay, Unit


def with_ground(blocks: QuerySet[Block]) -> QuerySet:
    """Add the current ground's net_area_ha and the trees and seed spots planted to each block."""
    newest = BlockGround.objects.filter(block=OuterRef("pk")).order_by("-version")
    return blocks.annotate(
        net_area_ha=Subquery(newest.values("net_area_ha")[:1]),
        planted_trees=planted(Q(block=OuterRef("pk")), Unit.TREE),
        planted_spots=planted(Q(block=OuterRef("pk")), Unit.SEED_SPOT),
    )


def planted(where: Q, unit: str) -> Coalesce:
    """Return an expression: what stands in the records as planted, of one unit, voided days left out."""
    days = (
        PlantingDay.objects.filter(where, voided_at__isnull=True, cohort__unit=unit)
        .order_by()
        .annotate(one=Value(1))
        .values("one")
        .annotate(total=Sum("quantity"))
        .values("total")
    )
    return Coalesce(Subquery(days, output_field=IntegerField()), 0)


def sums_by_site(blocks: QuerySet[Block]) -> dict[int, dict[str, float]]:
    """Return {site id: blocks, net area, trees and seed spots planted} over the blocks given."""
    rows = list(with_ground(blocks.filter(archived_at__isnull=True)).values(
        "site_id", "net_area_ha", "planted_trees", "planted_spots"
    ))  # fmt: skip
    sums: dict[int, dict[str, float]] = {}
    for row in rows:
        total = sums.setdefault(row["site_id"], {"blocks": 0, "net_area_ha": 0.0, "trees": 0, "spots": 0})
        total["blocks"] += 1
        total["net_area_ha"] += row["net_area_ha"] or 0.0
        total["trees"] += row["planted_trees"]
        total["spots"] += row["planted_spots"]
    return sums


def planted_by_season(days: QuerySet[PlantingDay]) -> QuerySet:
    """Group planting days by site and planting season: trees and seed spots, first and last day."""
    return (
        days.filter(voided_at__isnull=True)
        .order_by()
        .values(
            site_id=F("block__site_id"), season_id=F("cohort__season_id"), label=F("cohort__season__label")
        )
        .annotate(
            trees=Coalesce(Sum("quantity", filter=Q(cohort__unit=Unit.TREE)), 0),
            spots=Coalesce(Sum("quantity", filter=Q(cohort__unit=Unit.SEED_SPOT)), 0),
            replacements=Coalesce(Sum("quantity", filter=Q(cohort__replaces__isnull=False)), 0),
            blocks=Count("block_id", distinct=True),
        )
        .order_by("cohort__season__starts_on", "season_id")
    )

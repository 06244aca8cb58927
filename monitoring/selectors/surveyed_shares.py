"""How much of what was planted stands in blocks where plots were counted."""

from collections import defaultdict
from typing import Any

from django.db.models import Sum

from monitoring.estimators.rows import rounded
from monitoring.selectors.round_counts import RoundCounts
from projects.models import PlantingDay, Unit


def surveyed_shares(counts: RoundCounts) -> dict[str, float]:
    """Share of first plantings up to the round's close that stand in surveyed blocks, by project and site uid."""
    survey_round = counts.survey_round
    rows = (
        PlantingDay.objects.filter(
            block__project_id=survey_round.project_id, voided_at__isnull=True, cohort__unit=Unit.TREE,
            cohort__replaces__isnull=True, planted_on__lte=survey_round.closes_on,
        ).order_by().values_list("block_id", "block__site__uid").annotate(trees=Sum("quantity"))
    )  # fmt: skip
    surveyed = {visit.block_id for visit in counts.visits}
    planted: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    for block_id, site, trees in rows:
        for key in (str(survey_round.project.uid), str(site)):
            planted[key][0] += trees if block_id in surveyed else 0
            planted[key][1] += trees
    return {key: share(*sums) for key, sums in planted.items()}


def share(part: int, whole: int) -> Any:
    return rounded(part / whole)

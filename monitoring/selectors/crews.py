"""Which crews planted a cohort."""

from collections import defaultdict
from collections.abc import Collection

from projects.models import PlantingDay


def crews_of_cohorts(cohort_ids: Collection[int]) -> dict[int, frozenset[str]]:
    """Crews of each cohort, as written down; none where a planting day of it names no crew."""
    named: dict[int, set[str]] = defaultdict(set)
    rows = PlantingDay.objects.filter(cohort_id__in=cohort_ids, voided_at__isnull=True)
    for cohort, crew in rows.order_by().values_list("cohort_id", "crew").distinct():
        named[cohort].add(crew.strip().casefold())
    return {cohort: frozenset() if "" in crews else frozenset(crews) for cohort, crews in named.items()}

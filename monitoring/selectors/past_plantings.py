"""Every count of every planting of a project: what the survival of replacements is foreseen from."""

from collections.abc import Iterable, Mapping, Sequence

from monitoring.estimators.past_plantings import PlantingCount
from monitoring.models import Estimate
from monitoring.selectors.need_inputs import Planting


def planting_counts(project_id: int, plantings: Mapping[int, Sequence[Planting]]) -> list[PlantingCount]:
    """Counts of the project's cohorts in all its rounds; cohorts in too few plots for a figure count too."""
    known = first_days(row for rows in plantings.values() for row in rows)
    rows = Estimate.objects.filter(
        project_id=project_id, scope="cohort", measure="survival", is_headline=True, round__isnull=False
    ).order_by("key", "round__opens_on", "round_id")
    found = []
    for row in rows:
        planting, age_days = known.get(row.key), row.facts.get("age_days")
        if planting is None or age_days is None:
            continue
        found.append(
            PlantingCount(
                cohort=row.key,
                species=planting.species_id,
                stock_type=planting.stock_type,
                planted_on=planting.planted_on,
                age_days=age_days,
                trees=row.n_trees,
                alive=min(row.facts.get("counted_alive", 0), row.n_trees),
                plots=row.n_plots,
                icc=row.facts.get("icc"),
            )
        )
    return found


def first_days(plantings: Iterable[Planting]) -> dict[str, Planting]:
    """The first planting day of each cohort."""
    found: dict[str, Planting] = {}
    for row in plantings:
        if row.cohort_uid not in found or row.planted_on < found[row.cohort_uid].planted_on:
            found[row.cohort_uid] = row
    return found

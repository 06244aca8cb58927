"""A round as a change is taken from it, and which earlier round each of its blocks is compared with."""

from dataclasses import dataclass

import numpy as np

from monitoring.estimators.two_rounds import Occasion
from monitoring.models import PlotStatus, SurveyRound, Visit
from monitoring.selectors.round_counts import UNKNOWN_AGE, RoundCounts
from projects.models import Unit


@dataclass(frozen=True, slots=True)
class Predecessor:
    """An earlier round, and the blocks for which it is the last one before."""

    survey_round: SurveyRound
    block_ids: frozenset[int]


def occasion(counts: RoundCounts) -> Occasion:
    """Counts of a round with its plots named, visits dated and cohorts weighed by the ledger."""
    planted = {str(c.uid): c.planted for c in counts.cohorts.values() if c.unit == Unit.TREE}
    return Occasion(
        table=counts.table,
        plots=tuple(str(visit.plot_uid) for visit in counts.visits),
        day=np.array([visit.observed_on.toordinal() for visit in counts.visits], dtype=np.int64),
        age_days=np.where(counts.age_days == UNKNOWN_AGE, np.nan, counts.age_days.astype(float)),
        cohort_planted=np.array(
            [planted.get(uid, -1) for uid in counts.table.labels["cohort"]], dtype=np.int64
        ),
    )


def rounds_in_order(project_id: int) -> list[SurveyRound]:
    """Rounds of a project, oldest first."""
    rows = SurveyRound.objects.filter(project_id=project_id).select_related("project", "organisation")
    return sorted(rows, key=lambda row: (row.opens_on, row.closes_on, row.uid))


def predecessors(survey_round: SurveyRound) -> list[Predecessor]:
    """The last earlier round of each block that was counted now, the newest of these rounds first."""
    earlier: list[SurveyRound] = []
    for row in rounds_in_order(survey_round.project_id):
        if row.pk == survey_round.pk:
            break
        earlier.append(row)
    counted = blocks_counted(survey_round.project_id)
    open_blocks, found = counted.get(survey_round.pk, set()), []
    for row in reversed(earlier):
        shared = open_blocks & counted.get(row.pk, set())
        if shared:
            found.append(Predecessor(row, frozenset(shared)))
            open_blocks = open_blocks - shared
    return found


def blocks_counted(project_id: int) -> dict[int, set[int]]:
    """Blocks in which plots were counted, by round."""
    rows = (
        Visit.objects.filter(round__project_id=project_id, is_counting=True)
        .exclude(status=PlotStatus.MISSING)
        .order_by().values_list("round_id", "plot__block_id").distinct()
    )  # fmt: skip
    found: dict[int, set[int]] = {}
    for round_id, block_id in rows:
        found.setdefault(round_id, set()).add(block_id)
    return found

"""How species, lots, stock types and nurseries did in a round: stored comparison rows."""

from monitoring.estimators.performance import COMPARED_SCOPES, performance
from monitoring.estimators.performance import PerformanceRow as Compared
from monitoring.estimators.rows import EstimateSettings
from monitoring.models import PerformanceRow
from monitoring.selectors.round_counts import RoundCounts
from monitoring.services import derived
from monitoring.services.estimates import Stamp
from projects.identifiers import derived_uid


def part(counts: RoundCounts, settings: EstimateSettings, mark: Stamp) -> derived.Part:
    """All comparison rows of a round."""
    owned = PerformanceRow.objects.filter(round=counts.survey_round)
    rows = [
        stored(row, mark)
        for scope in COMPARED_SCOPES
        if counts.table.block.size
        for row in performance(counts.table, scope, settings)
    ]
    return derived.Part(owned, rows)


def stored(row: Compared, mark: Stamp) -> PerformanceRow:
    """One stored row; what the table has no column for stands in its facts."""
    return PerformanceRow(
        uid=derived_uid("performance", mark.survey_round.uid, row.scope, row.key),
        scope=row.scope, key=row.key, raw=row.raw, pooled=row.pooled, lower=row.lower, upper=row.upper,
        within_block=row.within_block, within_lower=row.within_lower, within_upper=row.within_upper,
        rank_low=row.rank_low, rank_high=row.rank_high, n_plots=row.n_plots, n_blocks=row.n_blocks,
        n_trees=row.n_trees, group=row.group, status=row.status,
        facts={"alive": row.n_alive, "chance_best": row.chance_best, "level": row.level},
        **mark.fields(),
    )  # fmt: skip

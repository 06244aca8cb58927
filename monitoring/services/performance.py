"""How species, lots, stock types and nurseries did in a round: stored comparison rows."""

from collections.abc import Mapping
from dataclasses import asdict

import numpy as np

from monitoring.estimators.handling import Handling, handling
from monitoring.estimators.peers import lines_of
from monitoring.estimators.performance import COMPARED_SCOPES, performance
from monitoring.estimators.performance import PerformanceRow as Compared
from monitoring.estimators.rows import EstimateSettings, rounded
from monitoring.models import PerformanceRow
from monitoring.selectors.crews import crews_of_cohorts
from monitoring.selectors.round_counts import RoundCounts
from monitoring.services import derived
from monitoring.services.estimates import Stamp
from projects.identifiers import derived_uid

IN_FACTS = (
    "level", "chance_best", "p_value", "p_adjusted", "odds", "odds_lower", "odds_upper", "blocks", "beside",
    "beside_blocks",
)  # fmt: skip


def part(counts: RoundCounts, settings: EstimateSettings, mark: Stamp) -> derived.Part:
    """All comparison rows of a round."""
    owned = PerformanceRow.objects.filter(round=counts.survey_round)
    if not counts.table.block.size:
        return derived.Part(owned, [])
    crews = crews_of_cohorts(list(counts.cohorts))
    rows = []
    for scope in COMPARED_SCOPES:
        handled = handling_of(counts, scope, crews)
        rows += [
            stored(row, mark, handled.get(row.key))
            for row in performance(counts.table, scope, settings, counts.season)
        ]
    return derived.Part(owned, rows)


def handling_of(counts: RoundCounts, scope: str, crews: Mapping[int, frozenset[str]]) -> dict[str, Handling]:
    """Planting dates and crews of each thing against its peers, by its key."""
    table, lines = counts.table, lines_of(counts.table, scope, counts.season)
    by_uid = {str(cohort.uid): cohort for cohort in counts.cohorts.values()}
    cohorts = [by_uid[uid] for uid in table.labels.get("cohort", ())]
    days = np.array(
        [np.nan if c.mean_planted_day is None else c.mean_planted_day for c in cohorts], dtype=float
    )
    found = handling(
        lines.item, lines.cell, lines.trees, table.cohort[lines.enters], days,
        [crews.get(c.id, frozenset()) for c in cohorts],
    )  # fmt: skip
    return {lines.keys[code]: told for code, told in found.items()}


def stored(row: Compared, mark: Stamp, handled: Handling | None = None) -> PerformanceRow:
    """One stored row; what the table has no column for stands in its facts."""
    told = asdict(row)
    facts = {name: list(told[name]) if isinstance(told[name], tuple) else told[name] for name in IN_FACTS}
    facts |= {"alive": row.n_alive, "days_later": None, "crews_apart": False}
    if handled is not None and row.status == "ok":
        facts |= {"days_later": rounded(handled.days_later), "crews_apart": handled.crews_apart}
    return PerformanceRow(
        uid=derived_uid("performance", mark.survey_round.uid, row.scope, row.key),
        scope=row.scope, key=row.key, raw=row.raw, pooled=row.pooled, lower=row.lower, upper=row.upper,
        within_block=row.within_block, within_lower=row.within_lower, within_upper=row.within_upper,
        rank_low=row.rank_low, rank_high=row.rank_high, n_plots=row.n_plots, n_blocks=row.n_blocks,
        n_trees=row.n_trees, group=row.group, status=row.status, facts=facts, **mark.fields(),
    )  # fmt: skip

"""What each kind of dirty key computes: the parts it owns, and the keys that follow from them."""

from collections.abc import Sequence

from monitoring.estimators.bounds import BOUND_MEASURES
from monitoring.estimators.change_rows import CHANGE_MEASURES
from monitoring.estimators.round_estimates import round_estimates
from monitoring.estimators.rows import (
    NO_PLOTS,
    NOT_ESTIMABLE,
    NOTHING_PLANTED,
    POOLED_ICC_WILSON,
    POSTERIOR,
    SCOPES,
    SURVIVAL,
    EstimateRow,
)
from monitoring.estimators.stocking import stocking_estimates
from monitoring.models import Estimate, SurveyRound
from monitoring.selectors.round_counts import RoundCounts, round_counts
from monitoring.selectors.stocking_rows import stocking_table
from monitoring.selectors.surveyed_shares import surveyed_shares
from monitoring.services import (
    bounds,
    changes,
    curves,
    derived,
    estimates,
    figure_cases,
    needs,
    observers,
    performance,
    reminders,
)
from monitoring.services.recompute import Part

WRITTEN_APART = (*CHANGE_MEASURES, *BOUND_MEASURES, *observers.OBSERVER_MEASURES)
BLOCK_SCOPES = ("block", "block_species")
POOLED_SCOPES = tuple(scope for scope in SCOPES if scope not in BLOCK_SCOPES)


def of_round_block(organisation_id: int, key: str) -> Sequence[Part]:
    """Figures that rest on one block of a round alone."""
    round_id, block_id = (int(part) for part in key.split(":"))
    survey_round = found_round(organisation_id, round_id)
    owned = Estimate.objects.filter(organisation_id=organisation_id, round_id=round_id, block_id=block_id)
    apart = bounds.owned(organisation_id, round_id, block_id)
    owned = owned.exclude(method=POOLED_ICC_WILSON).exclude(measure__in=WRITTEN_APART)
    if survey_round is None:
        return [derived.Part(owned, []), derived.Part(apart, [])]
    counts = round_counts(survey_round, block_id)
    settings = estimates.settings_of_round(survey_round)
    found = [
        *survival(counts, settings),
        *(row for row in stocking(counts, settings) if row.scope == "block"),
    ]
    own = estimates.only_methods(found, pooled_over_blocks=False) if known_to_round(counts) else []
    return [
        derived.Part(owned, estimates.estimates(counts, own, estimates.stamp(counts))),
        bounds.part(counts, settings, ("block",), block_id),
        figure_cases.outlier_part(counts, block_id),
    ]


def survival(counts: RoundCounts, settings: estimates.EstimateSettings) -> Sequence[EstimateRow]:
    """Rows of one block; a block without a planted tree in its plots says so rather than nothing."""
    found = round_estimates(counts.table, settings, scopes=BLOCK_SCOPES)
    if not counts.blocks or any(row.scope == "block" and row.measure == SURVIVAL for row in found):
        return found
    silent = EstimateRow(
        "block", str(counts.blocks[0].uid), SURVIVAL, POSTERIOR, settings.level, n_plots=len(counts.visits),
        is_headline=True, status=NOT_ESTIMABLE, reason=NOTHING_PLANTED if counts.visits else NO_PLOTS,
    )  # fmt: skip
    return [silent, *found]


def known_to_round(counts: RoundCounts) -> bool:
    """A block has figures if the round covers it or plots of it were counted."""
    return any(block.in_round for block in counts.blocks) or bool(counts.visits)


def of_round(organisation_id: int, key: str) -> Sequence[Part]:
    """Figures pooled over the blocks of a round, how species, lots and nurseries did, and what changed since before."""
    survey_round = found_round(organisation_id, int(key))
    rows = Estimate.objects.filter(organisation_id=organisation_id, round_id=int(key))
    owned = (rows.filter(block__isnull=True) | rows.filter(method=POOLED_ICC_WILSON)).exclude(
        measure__in=WRITTEN_APART
    )
    if survey_round is None:
        apart = [part.owned(organisation_id, int(key)) for part in (changes, bounds, observers)]
        return [derived.Part(owned, []) for owned in (owned, *apart)]
    counts = round_counts(survey_round)
    settings, mark = estimates.settings_of_round(survey_round), estimates.stamp(counts)
    pooled = [
        *round_estimates(counts.table, settings, scopes=POOLED_SCOPES),
        *estimates.only_methods(
            round_estimates(counts.table, settings, scopes=("block",)), pooled_over_blocks=True
        ),
        *(row for row in stocking(counts, settings) if row.scope == "project"),
    ]
    shares = surveyed_shares(counts)
    return [
        derived.Part(owned, estimates.estimates(counts, pooled, mark, shares)),
        performance.part(counts, settings, mark),
        changes.part(counts, settings),
        bounds.part(counts, settings, ("project", "site")),
        observers.part(counts, settings),
    ]


def of_project(organisation_id: int, key: str) -> Sequence[Part]:
    """What rests on all rounds of a project: what to replant in each block, survival over time, reminders."""
    return [
        needs.part(organisation_id, int(key)),
        curves.part(organisation_id, int(key)),
        figure_cases.totals_part(organisation_id, int(key)),
        reminders.Renewal(organisation_id),
    ]


def found_round(organisation_id: int, round_id: int) -> SurveyRound | None:
    rows = SurveyRound.objects.select_related("project", "organisation")
    return rows.filter(organisation_id=organisation_id, pk=round_id).first()


def stocking(counts: RoundCounts, settings: estimates.EstimateSettings) -> Sequence[EstimateRow]:
    """Stocking rows, where any plot has an area."""
    table = stocking_table(counts)
    return stocking_estimates(table, settings) if table.block.size else ()

"""Change since the round before, stored as estimates of the later round."""

from collections.abc import Iterator
from typing import Any

from django.db.models import QuerySet

from monitoring.estimators import CODE_VERSION
from monitoring.estimators.change_rows import CHANGE_MEASURES, POOLED_SCOPES, ChangeRow, change_estimates
from monitoring.estimators.rows import EstimateSettings
from monitoring.models import Estimate, SurveyRound
from monitoring.selectors import occasions
from monitoring.selectors.round_counts import RoundCounts, round_counts
from monitoring.services import derived, estimates
from projects.identifiers import derived_uid

BLOCK_SCOPES = ("block", "block_species", "cohort")


def owned(organisation_id: int, round_id: int) -> QuerySet[Estimate]:
    """The rows this module writes."""
    rows = Estimate.objects.filter(organisation_id=organisation_id, round_id=round_id)
    return rows.filter(measure__in=CHANGE_MEASURES)


def part(counts: RoundCounts, settings: EstimateSettings) -> derived.Part:
    """Every change since the round before; none for a first round."""
    survey_round = counts.survey_round
    rows = list(compared(counts, settings)) if counts.visits else []
    return derived.Part(owned(survey_round.organisation_id, survey_round.pk), rows)


def compared(counts: RoundCounts, settings: EstimateSettings) -> Iterator[Estimate]:
    """Each block against the last round that counted it; what is pooled against the newest of these rounds."""
    later = occasions.occasion(counts)
    for number, before in enumerate(occasions.predecessors(counts.survey_round)):
        earlier = round_counts(before.survey_round)
        scopes = (*POOLED_SCOPES, *BLOCK_SCOPES) if number == 0 else BLOCK_SCOPES
        mark = Mark(earlier, counts, settings)
        for row in change_estimates(occasions.occasion(earlier), later, settings, scopes=scopes):
            if row.row.scope in POOLED_SCOPES or mark.block_of(row) in before.block_ids:
                yield mark.stored(row)


class Mark:
    """What every row of one pair of rounds carries."""

    def __init__(self, earlier: RoundCounts, later: RoundCounts, settings: EstimateSettings) -> None:
        self.earlier, self.later = earlier.survey_round, later.survey_round
        self.digest = derived.digest(
            str(self.earlier.uid),
            self.earlier.name,
            estimates.stamp(earlier).input_digest,
            estimates.stamp(later).input_digest,
            [visit.observed_on for visit in (*earlier.visits, *later.visits)],
        )
        self.revision = max(earlier.revision, later.revision)
        self.blocks = {str(block.uid): block.id for block in later.blocks}
        self.cohorts = {str(cohort.uid): cohort.block_id for cohort in later.cohorts.values()}

    def block_of(self, row: ChangeRow) -> int | None:
        """The block a figure lies in."""
        if row.row.scope == "cohort":
            return self.cohorts.get(row.row.key)
        return self.blocks.get(row.row.key.partition(":")[0])

    def stored(self, found: ChangeRow) -> Estimate:
        """One stored row."""
        row, later = found.row, self.later
        return Estimate(
            uid=derived_uid("estimate", later.uid, row.scope, row.key, row.measure, row.method, row.level),
            organisation_id=later.organisation_id, project_id=later.project_id, round_id=later.pk,
            block_id=self.block_of(found) if row.scope in ("block", "block_species") else None,
            scope=row.scope, key=row.key, measure=row.measure, method=row.method, level=row.level,
            value=row.value, se=row.se, lower=row.lower, upper=row.upper, deff=row.deff,
            lower_one_sided=row.lower_decision, upper_one_sided=row.upper_decision,
            lower_claim=row.lower_claim, upper_claim=row.upper_claim,
            n_plots=row.n_plots, n_trees=row.n_trees, n_flagged=row.n_flagged, is_headline=row.is_headline,
            status=row.status, reason=estimates.fitting(row.reason), facts=facts(found, self.earlier),
            input_digest=self.digest, code_version=CODE_VERSION, revision=self.revision,
        )  # fmt: skip


def facts(found: ChangeRow, earlier: SurveyRound) -> dict[str, Any]:
    """What stands beside a change: the round before, the plots of both, the ages compared."""
    return {
        "since_round": str(earlier.uid), "since_name": earlier.name,
        "plots_earlier": found.n_earlier, "plots_later": found.n_later, "plots_common": found.n_common,
        "survival_earlier": found.earlier, "survival_later": found.later,
        "age_earlier_days": found.age_earlier_days, "age_days": found.age_later_days, "years": found.years,
    }  # fmt: skip

"""Estimate rows of a round: what the estimators answer, with outcome, facts and stamps."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import astuple, dataclass, replace
from typing import Any

from monitoring.estimators import CODE_VERSION, bounds, outcome, rows
from monitoring.estimators.measures import domains_of, measures_of
from monitoring.estimators.rows import EstimateRow, EstimateSettings
from monitoring.estimators.table import CountTable
from monitoring.models import Estimate, SurveyRound
from monitoring.selectors import domain_facts
from monitoring.selectors.round_counts import RoundCounts
from monitoring.selectors.stocking_rows import plots_below_target
from monitoring.services import derived
from projects.identifiers import derived_uid
from projects.models import Project

OUTCOME_SCOPES = ("project", "site", "block", "block_species", "species", "cohort")
NEXT_STEPS = {outcome.COUNT_MORE_PLOTS: "more_plots", outcome.GO_BACK_AND_LOOK: "look_again"}


def settings_of(project: Project, looks: int = 1) -> EstimateSettings:
    """The choices of a project behind its figures; several looks share the error of one."""
    return EstimateSettings(
        decision_level=outcome.level_of_looks(float(project.replanting_level), looks),
        claim_level=outcome.level_of_looks(float(project.claim_level), looks),
        minimum_plots=project.min_plots_per_species,
    )


def looks_of(survey_round: SurveyRound) -> int:
    """How often the outcome of a round is read: twice with a second stage, before its plots and after."""
    return 2 if survey_round.second_stage_plots else 1


def settings_of_round(survey_round: SurveyRound) -> EstimateSettings:
    """The choices behind the figures of a round."""
    return settings_of(survey_round.project, looks_of(survey_round))


@dataclass(frozen=True)
class Stamp:
    """What every row of one computation carries."""

    survey_round: SurveyRound
    input_digest: str
    revision: int

    def fields(self) -> dict[str, Any]:
        return {
            "organisation_id": self.survey_round.organisation_id,
            "project_id": self.survey_round.project_id,
            "round_id": self.survey_round.pk,
            "input_digest": self.input_digest,
            "code_version": CODE_VERSION,
            "revision": self.revision,
        }


def stamp(counts: RoundCounts, *also: Any) -> Stamp:
    """Hash everything the figures of these counts rest on, and what `also` enters some of them."""
    project = counts.survey_round.project
    return Stamp(
        counts.survey_round,
        derived.digest(
            *table_bytes(counts.table),
            counts.age_days.tobytes(),
            counts.season.tobytes(),
            [astuple(block)[1:] for block in counts.blocks],  # without the row number
            [[visit.plot_uid, visit.status] for visit in (*counts.missing, *counts.outside)],
            astuple(settings_of_round(counts.survey_round)),
            [str(project.target_survival), project.check_age_months],
            *also,
        ),
        counts.revision,
    )


def table_bytes(table: CountTable) -> list[Any]:
    """Columns, facts and labels of a table, in the order of their names."""
    columns = [getattr(table, name) for name in sorted(table.__slots__) if name not in ("blocks", "labels")]
    facts = [getattr(table.blocks, name) for name in sorted(table.blocks.__slots__)]
    return [*(column.tobytes() for column in (*columns, *facts)), dict(table.labels)]


def estimates(
    counts: RoundCounts, found: Sequence[EstimateRow], mark: Stamp, shares: Mapping[str, float] | None = None
) -> list[Estimate]:
    """Turn estimator rows into stored rows.

    `shares` gives, for the project and each site, the part of the planted trees that stands in surveyed blocks.
    """
    facts = Facts(counts, shares or {})
    heads = {(row.scope, row.key, row.measure): row for row in found if row.is_headline}
    return [stored(row, heads, facts, mark) for row in found]


class Facts:
    """Counts and ages behind rows, worked out once per scope and measure."""

    def __init__(self, counts: RoundCounts, shares: Mapping[str, float]) -> None:
        self.counts, self.shares = counts, shares
        self.measures = {measure.name: measure for measure in measures_of(counts.table)}
        self.by_block = domain_facts.plots_by_block(counts)
        self.project = counts.survey_round.project
        self.settings, self.looks = settings_of_round(counts.survey_round), looks_of(counts.survey_round)
        self.known: dict[tuple[str, str], tuple] = {}

    def of(self, scope: str, measure: str) -> tuple | None:
        """(positions by key, sums, ages) of a scope and measure; None for measures not made of count lines."""
        if measure not in self.measures:
            return None
        if (scope, measure) not in self.known:
            domains, chosen = domains_of(self.counts.table, scope), self.measures[measure]
            self.known[scope, measure] = (
                {key: number for number, key in enumerate(domains.keys)},
                domain_facts.sums(self.counts, domains, chosen),
                domain_facts.ages(self.counts, domains, chosen),
            )
        return self.known[scope, measure]

    def facts(self, row: EstimateRow) -> dict[str, Any]:
        """The counts shown beside a figure."""
        facts: dict[str, Any] = {}
        if found := self.of(row.scope, row.measure):
            place, sums, ages = found[0][row.key], found[1], found[2]
            facts |= {name: int(column[place]) for name, column in sums.items()}
            facts |= {"age_days": ages.mean_days[place], "mixed_age": bool(ages.mixed[place])}
        blocks = domain_facts.blocks_of_domain(self.counts, row.scope, row.key)
        if blocks is not None:
            facts |= domain_facts.plots_of(self.by_block, blocks)
            facts["last_observed_on"] = self.last_observed(blocks)
            facts["ledger_planted"] = int(sum(max(self.counts.ledger[block], 0) for block in blocks))
        if (row.scope, row.measure) == ("block", rows.PLOTS_STOCKED):
            facts["below_target"] = plots_below_target(self.counts, row.key)
        if self.looks > 1 and self.target(row) is not None:
            facts["looks"] = self.looks
        if row.scope in ("project", "site") and row.key in self.shares:
            facts["share_surveyed"] = self.shares[row.key]
        return facts

    def last_observed(self, blocks: Sequence[int]) -> str | None:
        """The last day on which plots of some blocks were counted."""
        ids = {self.counts.blocks[block].id for block in blocks}
        days = [visit.observed_on for visit in self.counts.visits if visit.block_id in ids]
        return max(days).isoformat() if days else None

    def reached(self, row: EstimateRow) -> bool | None:
        """Whether the check age is behind the trees of a figure."""
        found = self.of(row.scope, row.measure if row.measure in self.measures else rows.SURVIVAL)
        if found is None or row.key not in found[0]:
            return None
        ages: domain_facts.Ages = found[2]
        return ages.reached(found[0][row.key], self.project.check_age_months)

    def target(self, row: EstimateRow) -> float | None:
        """The target a figure is held against; None where it has none."""
        if row.measure in (rows.SURVIVAL, *bounds.ALL) and row.scope in OUTCOME_SCOPES:
            return float(self.project.target_survival)
        if row.measure != rows.STOCKING or row.scope not in ("project", "block"):
            return None
        blocks = domain_facts.blocks_of_domain(self.counts, row.scope, row.key) or []
        targets = {self.counts.blocks[block].target_per_ha for block in blocks}
        return float(only) if len(targets) == 1 and (only := targets.pop()) is not None else None

    def block_plots(self, row: EstimateRow) -> int | None:
        blocks = (
            domain_facts.blocks_of_domain(self.counts, row.scope, row.key) if row.scope == "block" else None
        )
        return self.counts.blocks[blocks[0]].block_plots if blocks else None


def stored(
    row: EstimateRow, heads: Mapping[tuple[str, str, str], EstimateRow], facts: Facts, mark: Stamp
) -> Estimate:
    """One stored row; facts and outcome stand on the headline only."""
    shown = facts.facts(row) if row.is_headline else {}
    if row.icc is not None:
        shown["icc"] = row.icc
    return Estimate(
        uid=derived_uid("estimate", mark.survey_round.uid, row.scope, row.key, row.measure, row.method, row.level),
        block_id=block_id_of(row, facts.counts),
        scope=row.scope, key=row.key, measure=row.measure, method=row.method, level=row.level,
        value=row.value, se=row.se, lower=row.lower, upper=row.upper, deff=row.deff,
        lower_one_sided=row.lower_decision, upper_one_sided=row.upper_decision,
        lower_claim=row.lower_claim, upper_claim=row.upper_claim,
        n_plots=row.n_plots, n_trees=row.n_trees, n_flagged=row.n_flagged, is_headline=row.is_headline,
        status=row.status, reason=fitting(row.reason), facts=shown,
        **(judged(row, heads, facts) if row.is_headline else {}),
        **mark.fields(),
    )  # fmt: skip


def fitting(reason: str, room: int = 60) -> str:
    """Reason codes joined by blanks, as many whole ones as the column holds."""
    while len(reason) > room:
        reason = reason.rpartition(" ")[0]
    return reason


def judged(
    row: EstimateRow, heads: Mapping[tuple[str, str, str], EstimateRow], facts: Facts
) -> dict[str, Any]:
    """Outcome at both levels and what would settle it."""
    target = facts.target(row)
    if target is None:
        return {}
    if_found = (
        heads.get((row.scope, row.key, rows.SURVIVAL_IF_FOUND)) if row.measure == rows.SURVIVAL else None
    )
    asked = {
        "check_age_reached": facts.reached(row),
        "block_plots": facts.block_plots(row),
        "settings": facts.settings,
    }
    if row.measure in bounds.ALL:
        row = replace(row, measure=rows.SURVIVAL)  # what the outcome would be, were it decided so
    decision = outcome.judge(row, if_found, target, **asked)  # type: ignore[arg-type]
    claim = outcome.judge(row, if_found, target, for_claim=True, **asked)  # type: ignore[arg-type]
    return {
        "outcome": word(decision.code),
        "outcome_claim": word(claim.code),
        "more_plots": decision.more_plots,
        "next_step": NEXT_STEPS.get(decision.next_step, decision.next_step),
    }


def word(code: str) -> str:
    return "" if code == outcome.NO_OUTCOME else code


def block_id_of(row: EstimateRow, counts: RoundCounts) -> int | None:
    """The block of a figure that lies within one."""
    if row.scope not in ("block", "block_species"):
        return None
    uid = row.key.partition(":")[0]
    return next((block.id for block in counts.blocks if str(block.uid) == uid), None)


def only_methods(found: Iterable[EstimateRow], *, pooled_over_blocks: bool) -> list[EstimateRow]:
    """Part rows of a block that borrow from other blocks from those that rest on the block alone."""
    return [row for row in found if (row.method == rows.POOLED_ICC_WILSON) == pooled_over_blocks]

"""Replacement needs of a project: what to plant in each block, expected and assured, and by when to order."""

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from monitoring.calc.replanting_dates import ReplantingDates, replanting_dates
from monitoring.estimators import CODE_VERSION
from monitoring.estimators.replacement import (
    Need,
    ReplacementSurvival,
    replacement_need,
    replacement_survival,
)
from monitoring.estimators.rows import OK, EstimateRow, rounded
from monitoring.models import Estimate, ReplacementNeed
from monitoring.selectors import need_inputs
from monitoring.selectors.domain_facts import DAYS_PER_MONTH, not_removed
from monitoring.selectors.need_inputs import NeedInputs, Planting
from monitoring.services import derived
from projects import clocks
from projects.identifiers import derived_uid
from projects.models import BlockGround, Project, SurvivalPrior
from species.models import Species

DEFAULT_SURVIVAL = ReplacementSurvival(7.0, 3.0)  # 70 % with the weight of ten trees; common practice
YOUNGEST_DAYS = 90  # a younger planting tells nothing about a yearly rate of loss
REPLANTED_SINCE = "replanted_since_count"


def part(organisation_id: int, project_id: int) -> derived.Part:
    """All needs of a project, each from the latest round in which its block was counted."""
    owned = ReplacementNeed.objects.filter(organisation_id=organisation_id, project_id=project_id)
    project = Project.objects.select_related("organisation").filter(
        organisation_id=organisation_id, pk=project_id, archived_at__isnull=True
    ).first()  # fmt: skip
    return derived.Part(owned, needs_of(project) if project else [])


def needs_of(project: Project) -> list[ReplacementNeed]:
    blocks = need_inputs.latest_block_figures(project.pk)
    rounds = {row.round_id: row.round for row in blocks.values()}
    inputs = need_inputs.need_inputs(project.pk, project.organisation_id, rounds)
    figures = need_inputs.figures_of_rounds(rounds.values())
    grounds = latest_areas(blocks)
    species = dict(Species.objects.values_list("slug", "id")) if figures else {}
    found = []
    for block_id, row in sorted(blocks.items()):
        place = Place.of(project, row, inputs, figures, grounds.get(block_id), species)
        found += place.needs()
    return found


def latest_areas(blocks: Iterable[int]) -> dict[int, float]:
    """Net area of the newest ground of each block."""
    rows = BlockGround.objects.filter(block_id__in=list(blocks)).order_by("block_id", "version")
    return dict(rows.values_list("block_id", "net_area_ha"))


@dataclass(frozen=True)
class Place:
    """One block with everything its needs rest on."""

    project: Project
    row: Estimate
    inputs: NeedInputs
    figures: dict[tuple[int, str, str], Estimate]
    plantings: Sequence[Planting]
    target: int | None
    species: dict[str, int]
    today: date

    @classmethod
    def of(
        cls,
        project: Project,
        row: Estimate,
        inputs: NeedInputs,
        figures: dict,
        area_ha: float | None,
        species: dict,
    ) -> "Place":
        """Gather one block; the target is its stocking, else the target share of what was planted."""
        per_ha = need_inputs.targets_per_ha(row.block)
        planted = row.facts.get("ledger_planted") or 0
        if per_ha and area_ha:
            target = math.ceil(per_ha * area_ha - 1e-9)
        else:
            target = math.ceil(float(project.target_survival) * planted - 1e-9) or None
        today = clocks.today_of(project.organisation)
        return cls(
            project, row, inputs, figures, inputs.plantings.get(row.block_id, ()), target, species, today
        )

    def needs(self) -> list[ReplacementNeed]:
        """The need of the whole block, then of each species in it."""
        found = [self.need(self.row, None, "", self.plantings, self.target)]
        prefix = f"{self.row.key}:"
        for (round_id, scope, key), figure in sorted(self.figures.items(), key=lambda item: item[0]):
            if round_id == self.row.round_id and scope == "block_species" and key.startswith(prefix):
                found.append(self.species_need(figure, key.removeprefix(prefix)))
        return found

    def species_need(self, figure: Estimate, slug: str) -> ReplacementNeed:
        """A species is held to its share of the block's target: its part of what was planted there."""
        mine = [day for day in self.plantings if day.species_id == self.species[slug]]
        whole, own = self.in_sample(self.plantings), self.in_sample(mine)
        target = math.ceil(self.target * own / whole - 1e-9) if self.target and whole and own else None
        return self.need(figure, self.species[slug], slug, mine, target)

    def in_sample(self, plantings: Iterable[Planting]) -> int:
        """Trees the survey speaks for: first plantings, and replacements whose cohort the plots hold."""
        return sum(day.trees for day in plantings if self.speaks_for(day))

    def speaks_for(self, day: Planting) -> bool:
        """Say whether a planting stood when the block was last counted and its plots hold it."""
        counted = date.fromisoformat(self.row.facts["last_observed_on"])
        held = not day.replaces or (self.row.round_id, "cohort", day.cohort_uid) in self.figures
        return day.planted_on <= counted and held

    def since(self, plantings: Iterable[Planting]) -> int:
        """Trees planted that the survey does not speak for."""
        return sum(day.trees for day in plantings if not self.speaks_for(day))

    def need(
        self,
        figure: Estimate,
        species_id: int | None,
        slug: str,
        plantings: Sequence[Planting],
        target: int | None,
    ) -> ReplacementNeed:
        """One stored need."""
        stock_type = most_planted((day.stock_type, day.trees) for day in plantings) or ""
        survival, source = self.survival(slug, stock_type, species_id)
        since = self.since(plantings)
        solved = self.solved(figure, plantings, target, survival, since)
        dates = self.dates(stock_type, plantings) if solved.status == OK else None
        signs = self.inputs.signs.get((figure.round_id, (self.row.block_id, species_id)), {})
        return ReplacementNeed(
            uid=derived_uid("need", self.row.round.uid, self.row.block.uid, slug, stock_type),
            organisation_id=self.project.organisation_id, project_id=self.project.pk, round_id=figure.round_id,
            block_id=self.row.block_id, species_id=species_id, stock_type=stock_type, target=target,
            living=solved.living, living_lower=solved.living_lower, living_upper=solved.living_upper,
            replacement_survival=rounded(survival.mean), replacement_survival_source=source,
            n_expected=solved.n_expected, n_assured=solved.n_assured, assurance=solved.assurance,
            window_opens_on=dates.window.opens_on if dates else None,
            window_closes_on=dates.window.closes_on if dates else None,
            order_by=dates.order_by if dates else None,
            status=solved.status, reason=solved.reason or (REPLANTED_SINCE if since else ""), losses=dict(signs),
            input_digest=self.digest(figure, plantings, target, survival), code_version=CODE_VERSION,
            revision=figure.revision,
        )  # fmt: skip

    def solved(
        self,
        figure: Estimate,
        plantings: Sequence[Planting],
        target: int | None,
        survival: ReplacementSurvival,
        since: int,
    ) -> Need:
        """Living today, carried to the check age, against what is still missing after later replantings."""
        assurance = float(self.project.replanting_level)
        planted = self.in_sample(plantings)
        if target is None or not planted:
            return Need(
                target or 0, assurance=assurance, status="not_estimable", reason="target_or_ledger_missing"
            )
        missing = max(target - math.floor(since * survival.mean + 1e-9), 0)
        return replacement_need(
            as_row(figure), planted * not_removed(figure.facts), missing, survival, assurance=assurance,
            survival_to_check=self.survival_to_check(figure),
        )  # fmt: skip

    def survival_to_check(self, figure: Estimate) -> float:
        """Share of today's living expected at the check age, at the rate of loss seen so far.

        Losses slow down after the first year (common practice), so this errs towards planting too many.
        """
        age, check = figure.facts.get("age_days"), self.project.check_age_months * DAYS_PER_MONTH
        if age is None or age >= check or not figure.value:
            return 1.0
        return float(figure.value) ** ((check - age) / max(age, YOUNGEST_DAYS))

    def survival(self, slug: str, stock_type: str, species_id: int | None) -> tuple[ReplacementSurvival, str]:
        """Survival of what would be planted: as observed in this project, else a stated prior, else a default."""
        scopes = [("species", slug)] if slug else []
        scopes += [("stock_type", stock_type), ("project", str(self.project.uid))]
        for scope, key in scopes:
            seen = self.figures.get((self.row.round_id, scope, key))
            if seen is not None and seen.status == OK and seen.value:
                late = "" if seen.facts.get("age_days") is None or self.is_old_enough(seen) else "_so_far"
                return replacement_survival(as_row(seen)), f"observed_{scope}{late}"
        prior = best_prior(self.inputs.priors, self.project.pk, species_id, stock_type)
        if prior is not None:
            weight = prior.weight_trees
            return ReplacementSurvival(
                prior.mean * weight, (1 - prior.mean) * weight
            ), f"prior: {prior.source}"[:60]
        return DEFAULT_SURVIVAL, "common practice"

    def is_old_enough(self, figure: Estimate) -> bool:
        return figure.facts["age_days"] >= self.project.check_age_months * DAYS_PER_MONTH

    def dates(self, stock_type: str, plantings: Sequence[Planting]) -> ReplantingDates | None:
        """The next window that can still be met, with the lead time of the nursery that delivered most."""
        nursery = most_planted((day.nursery_id, day.trees) for day in plantings if day.nursery_id)
        weeks = self.inputs.lead_weeks.get(nursery, self.inputs.longest_lead)
        return replanting_dates(
            self.inputs.windows.get((self.row.block_id, stock_type), ()), self.today, weeks
        )

    def digest(
        self,
        figure: Estimate,
        plantings: Sequence[Planting],
        target: int | None,
        survival: ReplacementSurvival,
    ) -> str:
        """Hash of what the need rests on; the day it was worked out shows only in its dates."""
        days = [[day.cohort_uid, day.planted_on, day.trees] for day in plantings]
        return derived.digest(figure.input_digest, days, target, [survival.alpha, survival.beta])


def as_row(row: Estimate) -> EstimateRow:
    """A stored figure as the estimators know it."""
    return EstimateRow(
        scope=row.scope, key=row.key, measure=row.measure, method=row.method, level=row.level, value=row.value,
        se=row.se, lower=row.lower, upper=row.upper, n_plots=row.n_plots, n_trees=row.n_trees,
        status=row.status, reason=row.reason,
    )  # fmt: skip


def most_planted(pairs: Iterable[tuple[Any, int]]) -> Any:
    """The name under which most trees were planted; ties go to the first by name."""
    total: Counter = Counter()
    for name, trees in pairs:
        total[name] += trees
    return min(total, key=lambda name: (-total[name], str(name)), default=None)


def best_prior(
    priors: Iterable[SurvivalPrior], project_id: int, species_id: int | None, stock_type: str
) -> SurvivalPrior | None:
    """The most particular prior that fits: project before organisation, species before stock type."""
    fitting = [
        prior
        for prior in priors
        if prior.project_id in (None, project_id)
        and prior.species_id in (None, species_id)
        and prior.stock_type in ("", stock_type)
    ]
    return max(fitting, key=how_particular, default=None)


def how_particular(prior: SurvivalPrior) -> tuple[bool, bool, bool, int]:
    """What ranks one prior before another."""
    return (prior.project_id is not None, prior.species_id is not None, prior.stock_type != "", prior.pk)

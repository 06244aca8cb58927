"""Replacement needs of a project: what to plant in each block, expected and assured, and by when to order."""

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from monitoring.calc.replanting_dates import ReplantingDates, replanting_dates
from monitoring.estimators import CODE_VERSION
from monitoring.estimators.living import Carry
from monitoring.estimators.past_plantings import Foreseen
from monitoring.estimators.planting_survival import ReplacementSurvival
from monitoring.estimators.replacement import Need, Standing, replacement_need
from monitoring.estimators.rows import OK, EstimateRow, rounded
from monitoring.models import Estimate, ReplacementNeed
from monitoring.selectors import need_inputs
from monitoring.selectors.domain_facts import not_removed
from monitoring.selectors.need_inputs import NeedInputs, Planting
from monitoring.selectors.past_plantings import planting_counts
from monitoring.services import derived, need_choices
from monitoring.services.replanting_evidence import Evidence
from projects import clocks
from projects.identifiers import derived_uid
from projects.models import BlockGround, Project
from species.models import Species

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
    counts = planting_counts(project.pk, inputs.plantings) if blocks else []
    evidence = Evidence.of(project, counts, inputs.priors)
    found = []
    for block_id, row in sorted(blocks.items()):
        place = Place.of(project, row, inputs, evidence, figures, grounds.get(block_id), species)
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
    evidence: Evidence
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
        evidence: Evidence,
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
        plantings = inputs.plantings.get(row.block_id, ())
        return cls(project, row, inputs, evidence, figures, plantings, target, species, today)

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
        dates = self.dates(stock_type, plantings)
        foreseen, source = self.evidence.foreseen(species_id, stock_type, dates.window if dates else None)
        standing = self.standing(figure, plantings, foreseen.survival)
        solved = self.solved(standing, target, foreseen.survival)
        chosen = dates if solved.status == OK else None
        signs = self.inputs.signs.get((figure.round_id, (self.row.block_id, species_id)), {})
        asked = need_choices.Asked(
            species_id, stock_type, plantings, standing, solved, foreseen, source, dates
        )
        return ReplacementNeed(
            uid=derived_uid("need", self.row.round.uid, self.row.block.uid, slug, stock_type),
            organisation_id=self.project.organisation_id, project_id=self.project.pk, round_id=figure.round_id,
            block_id=self.row.block_id, species_id=species_id, stock_type=stock_type, target=target,
            living=solved.living, living_lower=solved.living_lower, living_upper=solved.living_upper,
            living_at_check=solved.living_at_check, n_assured_if_known=solved.n_assured_if_known,
            replacement_survival=rounded(foreseen.survival.mean), replacement_survival_source=source,
            n_expected=solved.n_expected, n_assured=solved.n_assured, assurance=solved.assurance,
            window_opens_on=chosen.window.opens_on if chosen else None,
            window_closes_on=chosen.window.closes_on if chosen else None,
            order_by=chosen.order_by if chosen else None, status=solved.status,
            reason=solved.reason or (REPLANTED_SINCE if standing.replanted else ""), losses=dict(signs),
            facts=need_choices.facts(self, asked),
            input_digest=self.digest(figure, plantings, target, standing, foreseen), code_version=CODE_VERSION,
            revision=figure.revision,
        )  # fmt: skip

    def standing(
        self, figure: Estimate, plantings: Sequence[Planting], survival: ReplacementSurvival
    ) -> Standing:
        """What stands there: trees the survey speaks for, and replantings since."""
        carry = Carry(
            figure.facts.get("age_days"), self.evidence.check_days, self.evidence.rate, survival.correlation
        )
        planted = self.in_sample(plantings) * not_removed(figure.facts)
        return Standing(as_row(figure), planted, carry, self.since(plantings), survival)

    def solved(self, standing: Standing, target: int | None, survival: ReplacementSurvival) -> Need:
        """The need, where there is a target and something was planted."""
        assurance = float(self.project.replanting_level)
        if target is None or not standing.planted:
            return Need(
                target or 0, assurance=assurance, status="not_estimable", reason="target_or_ledger_missing"
            )
        return replacement_need(standing, target, survival, assurance=assurance)

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
        standing: Standing,
        foreseen: Foreseen,
    ) -> str:
        """Hash of what the need rests on; the day it was worked out shows only in its dates."""
        days = [[day.cohort_uid, day.planted_on, day.trees] for day in plantings]
        alpha, beta, weight = foreseen.survival.parts()
        carry = replace(standing.carry, rate=None)
        parts = [alpha.tobytes(), beta.tobytes(), weight.tobytes()]
        return derived.digest(figure.input_digest, days, target, *parts, str(carry), str(self.evidence.rate))


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

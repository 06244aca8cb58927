"""The schedule of aftercare of a block's plantings, beside what is on its list already."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Max, Q, QuerySet, Sum

from projects import access, care_words
from projects.access import Actor
from projects.calc.care_schedule import CareChoices, PlannedCare, Planting, care_schedule, month_at
from projects.calc.care_year import Ground
from projects.models import Block, CareTask, Cohort, Season, SiteAssessment
from projects.selectors.planting_windows import latitude_of, soil_of
from species.access import own_traits
from species.selectors.facts import traits_of

EMERGED = "emergence_to_month"
TRAITS = ("light", "dry_months_optimum_to", EMERGED)


@dataclass(frozen=True)
class Proposal:
    """One line of a schedule in words, with the task that stands for it where there is one."""

    cohort: Cohort
    line: PlannedCare
    task: CareTask | None
    today: date

    @property
    def key(self) -> str:
        """What a tick on the page sends."""
        return f"{self.cohort.uid}:{self.line.key}"

    @property
    def source_key(self) -> str:
        """What its task is known by, however often the schedule is worked out."""
        return f"schedule:{self.key}"

    @property
    def is_past(self) -> bool:
        """Whether its time has gone by and nothing was written down."""
        return self.task is None and self.line.due_by < self.today

    @property
    def what(self) -> str:
        return care_words.what(self.line)

    @property
    def why(self) -> str:
        return care_words.why(self.line)

    @property
    def hesitation(self) -> str:
        return care_words.hesitation(self.line)

    @property
    def source(self) -> str:
        return care_words.source(self.line)

    @property
    def amount(self) -> str:
        return care_words.amount_words(self.line)


@dataclass(frozen=True)
class CohortSchedule:
    """What one planting asks for."""

    cohort: Cohort
    planting: Planting
    proposals: Sequence[Proposal]
    notes: Sequence[str]

    @property
    def to_come(self) -> list[Proposal]:
        """Lines that can still be taken up, or are on the list."""
        return [row for row in self.proposals if not row.is_past]

    @property
    def n_past(self) -> int:
        """Lines whose time has gone by."""
        return len(self.proposals) - len(self.to_come)


def ground_of(block: Block) -> Ground:
    """Normals, place and soil of a block, as far as they are known; two queries."""
    soil, normals = soil_of(block), block.site.climate_normals or {}
    return Ground(
        normals.get("mean_minimum_c", ()), normals.get("mean_maximum_c", ()), normals.get("rain_mm", ()),
        latitude_of(block), soil.texture, soil.depth_cm,
    )  # fmt: skip


def is_open_ground(block: Block) -> bool | None:
    """Whether nothing shades the block, by its site's assessment; None where it does not say."""
    assessment = SiteAssessment.objects.filter(site=block.site).only("light").first()
    return assessment.light == "full_sun" if assessment and assessment.light else None


def planted_cohorts(block: Block, season: Season | None = None) -> QuerySet[Cohort]:
    """Plantings of a block that hold something, the latest first, with `planted` and `last_on`."""
    standing = Q(planting_days__voided_at__isnull=True)
    rows = block.cohorts.select_related("species", "season", "lot").annotate(
        planted=Sum("planting_days__quantity", filter=standing),
        last_on=Max("planting_days__planted_on", filter=standing),
    )
    rows = rows.filter(planted__gt=0).order_by("-last_on", "id")
    return rows.filter(season=season) if season else rows


def schedules(
    actor: Actor, block: Block, choices: CareChoices, today: date, season: Season | None = None
) -> list[CohortSchedule]:
    """Work out the schedules of a block's plantings; five queries, however many there are."""
    cohorts = list(planted_cohorts(block, season))
    ground = ground_of(block)
    facts = _facts(actor, {row.species_id for row in cohorts}, ground)
    tasks = access.visible_care_tasks(actor).filter(block=block, source_key__startswith="schedule:")
    known = {task.source_key: task for task in tasks}
    return [_schedule(row, facts.get(row.species_id, {}), ground, choices, known, today) for row in cohorts]


def _facts(actor: Actor, species: set[int], ground: Ground) -> dict[int, dict[str, Any]]:
    """What is known of species; months of the shared reference are told of the north, an organisation's own of here."""
    uid = actor.organisation.uid
    facts: dict[int, dict[str, Any]] = dict(traits_of(species, TRAITS, organisation_uid=uid))
    if month_at(1, ground.latitude_deg) == 1:
        return facts
    own = set(own_traits(uid).filter(trait=EMERGED).values_list("species_id", flat=True))
    for pk in facts.keys() - own:
        if EMERGED in facts[pk]:
            facts[pk][EMERGED] = month_at(int(facts[pk][EMERGED]), ground.latitude_deg)
    return facts


def _schedule(
    cohort: Cohort, facts: dict, ground: Ground, choices: CareChoices, known: dict[str, CareTask], today: date
) -> CohortSchedule:
    planting = planting_of(cohort, facts)
    found = care_schedule(planting, ground, choices)
    rows = [
        Proposal(cohort, line, known.get(f"schedule:{cohort.uid}:{line.key}"), today) for line in found.lines
    ]
    told = [(name, values) for name, values in found.notes if values.get("due_by", today) >= today]
    return CohortSchedule(cohort, planting, rows, [care_words.note(name, values) for name, values in told])


def planting_of(cohort: Cohort, facts: dict) -> Planting:
    """A cohort with `planted` and `last_on`, and what is known of its species, as the schedule takes it."""
    dry, emerged = facts.get("dry_months_optimum_to"), facts.get(EMERGED)
    return Planting(
        planted_on=cohort.last_on,
        stock_type=cohort.stock_type,
        n=cohort.planted,
        light=facts.get("light") or None,
        dry_months=None if dry is None else float(dry),
        emerged_by=None if emerged is None else int(emerged),
    )

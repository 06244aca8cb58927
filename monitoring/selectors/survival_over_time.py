"""Change since the round before and survival over time, as pages show them: stored rows, few queries."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from monitoring.estimators import rows
from monitoring.estimators.change_rows import CHANGE_MEASURES
from monitoring.models import DirtyKey, Estimate, SurveyRound, SurvivalCurve, Visit
from projects.models import Block, Cohort, Project, Season

SHOWN_SCOPES = ("project", "block")


@dataclass(frozen=True)
class ChangeLine:
    """One block, or the whole project, with its change, living now of those living then, and its yearly rate."""

    label: str
    block: Block | None
    survey_round: SurveyRound
    figures: Mapping[str, Estimate]

    @property
    def change(self) -> Estimate | None:
        return self.figures.get(rows.SURVIVAL_CHANGE)

    @property
    def interval(self) -> Estimate | None:
        return self.figures.get(rows.INTERVAL_SURVIVAL)

    @property
    def annual(self) -> Estimate | None:
        return self.figures.get(rows.ANNUAL_SURVIVAL)

    @property
    def since(self) -> str:
        """The round it is compared with."""
        return self.change.facts.get("since_name", "") if self.change else ""


def changes_of_round(survey_round: SurveyRound) -> list[ChangeLine]:
    """What a round says of the change since the one before: blocks by name, the whole last."""
    return lines(Estimate.objects.filter(round=survey_round))


def latest_changes(project: Project) -> list[ChangeLine]:
    """The last change known of the project and of each of its blocks."""
    return lines(Estimate.objects.filter(project=project))


def lines(estimates: QuerySet[Estimate]) -> list[ChangeLine]:
    chosen = estimates.filter(measure__in=CHANGE_MEASURES, scope__in=SHOWN_SCOPES, is_headline=True)
    order = ("round__opens_on", "round__closes_on", "round__uid")
    found: dict[tuple[str, str], dict[str, Estimate]] = defaultdict(dict)
    for row in chosen.select_related("round", "block__site").order_by(*order):
        held = found[row.scope, row.key]
        if any(one.round_id != row.round_id for one in held.values()):
            held.clear()  # a later round has a change of its own
        held[row.measure] = row
    made = [line_of(scope, held) for (scope, _key), held in found.items()]
    blocks = sorted((one for one in made if one.block), key=lambda one: (one.label, one.block.pk))  # type: ignore[union-attr]
    whole = [one for one in made if one.block is None]
    return [*blocks, *(whole if len(blocks) > 1 else [])]


def line_of(scope: str, held: Mapping[str, Estimate]) -> ChangeLine:
    row = next(iter(held.values()))
    assert row.round is not None
    return ChangeLine(row.block.name if row.block else "", row.block, row.round, dict(held))


@dataclass(frozen=True)
class Shown:
    """A curve with the names of what it is of."""

    row: SurvivalCurve
    label: str
    season: str

    @property
    def points(self) -> list[dict[str, Any]]:
        """Points after planting, as figures: value, limits, level, what they rest on."""
        return [
            point
            | {
                "value": point["survival"],
                "level": self.row.level,
                "n_plots": point["plots"],
                "n_trees": point["trees"],
            }
            for point in self.row.points
            if point["round"]
        ]

    @property
    def last(self) -> dict[str, Any] | None:
        return self.points[-1] if self.points else None


@dataclass(frozen=True)
class BlockCurves:
    """What one season planted in one block: all of it, and each planting."""

    block: Block
    whole: Shown
    plantings: list[Shown] = field(default_factory=list)


@dataclass(frozen=True)
class OverTime:
    """Everything the page of a project says of survival over time."""

    project: Project
    wholes: list[Shown]
    blocks: list[BlockCurves]
    changes: list[ChangeLine]
    is_behind: bool

    @property
    def several_seasons(self) -> bool:
        return len({one.season for one in [*self.wholes, *(block.whole for block in self.blocks)]}) > 1

    @property
    def revision(self) -> int:
        return max((one.row.revision for one in self.wholes), default=0)


def over_time(project: Project, blocks: Sequence[Block]) -> OverTime:
    """Read the curves of a project and of some of its blocks, with the names of what they are of."""
    seasons = {str(one.uid): one.label for one in Season.objects.filter(organisation=project.organisation)}
    cohorts = Cohort.objects.filter(block__in=blocks).select_related("species", "season", "lot", "block")
    known = {str(one.uid): one for one in cohorts}
    keys = [f"{block.uid}:{season}" for block in blocks for season in seasons]
    mine = SurvivalCurve.objects.filter(project=project)
    wholes = [Shown(row, project.name, season_of(row, seasons)) for row in mine.filter(scope="project")]
    curves = mine.filter(Q(scope="block", key__in=keys) | Q(scope="cohort", key__in=list(known)))
    behind = DirtyKey.objects.filter(
        organisation_id=project.organisation_id, kind="project", key=str(project.pk)
    )
    return OverTime(
        project=project,
        wholes=sorted(wholes, key=lambda one: (one.season, one.row.key)),
        blocks=block_curves(list(curves), {str(one.uid): one for one in blocks}, known, seasons),
        changes=latest_changes(project),
        is_behind=behind.exists(),
    )


def blocks_with_curves(project: Project) -> QuerySet[Block]:
    """Blocks of a project in which plots were counted, archived ones left out."""
    counted = Visit.objects.filter(plot__block_id=OuterRef("pk"), is_counting=True, round__isnull=False)
    rows = Block.objects.filter(project=project, archived_at__isnull=True).select_related("site")
    return rows.filter(Exists(counted))


def panels_of(row: SurvivalCurve) -> list[tuple[str, SurvivalCurve]]:
    """The curves of one picture with their labels: a block with each of its plantings, anything else alone."""
    if row.scope == "cohort":
        cohort = Cohort.objects.filter(uid=row.key).select_related("species", "season", "lot").first()
        return [(str(cohort) if cohort else "", row)]
    if row.scope != "block":
        return [("", row)]
    block, _, season = row.key.partition(":")
    cohorts = Cohort.objects.filter(block__uid=block, season__uid=season).select_related(
        "species", "season", "lot"
    )
    labels = {str(one.uid): str(one) for one in cohorts}
    found = SurvivalCurve.objects.filter(project_id=row.project_id, scope="cohort", key__in=list(labels))
    told = [(labels[one.key], one) for one in found if one.points]
    plantings = sorted(told, key=lambda pair: (pair[0], pair[1].key)) if len(labels) > 1 else []
    return [("", row), *plantings]


def season_of(row: SurvivalCurve, seasons: Mapping[str, str]) -> str:
    return seasons.get(row.key.partition(":")[2], "")


def block_curves(
    curves: Sequence[SurvivalCurve],
    blocks: Mapping[str, Block],
    cohorts: Mapping[str, Cohort],
    seasons: Mapping[str, str],
) -> list[BlockCurves]:
    """Curves of blocks by name and season, each with those of its plantings."""
    plantings: dict[str, list[Shown]] = defaultdict(list)
    for row in curves:
        cohort = cohorts.get(row.key) if row.scope == "cohort" else None
        if cohort is not None:
            shown = Shown(row, str(cohort), cohort.season.label)
            plantings[f"{cohort.block.uid}:{cohort.season.uid}"].append(shown)
    found = [
        BlockCurves(
            blocks[row.key.partition(":")[0]],
            Shown(row, blocks[row.key.partition(":")[0]].name, season_of(row, seasons)),
            sorted(plantings[row.key], key=lambda one: (one.label, one.row.key)),
        )
        for row in curves
        if row.scope == "block" and row.key.partition(":")[0] in blocks
    ]
    return sorted(found, key=lambda one: (one.block.name, one.whole.season, one.whole.row.key))

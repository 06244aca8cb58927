"""The figures of one survey round, as its page shows them: stored rows only, in a fixed number of queries."""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Q, QuerySet

from monitoring.estimators import rows
from monitoring.models import (
    CASES_OF_FIGURES,
    Case,
    DirtyKey,
    Estimate,
    RoundBlock,
    RoundPlot,
    SurveyRound,
    Visit,
)
from monitoring.selectors.headlines import APART, Line, headlines, lines_by_scope
from projects.models import Block, Project


@dataclass(frozen=True)
class Tally:
    """What became of the plots a round wanted."""

    planned: int = 0
    counted: int = 0
    destroyed: int = 0
    outside: int = 0
    missing: tuple[tuple[str, int], ...] = ()  # (reason, plots)

    @property
    def n_missing(self) -> int:
        return sum(number for _reason, number in self.missing)

    @property
    def n_reported(self) -> int:
        return self.counted + self.destroyed + self.n_missing

    @property
    def n_open(self) -> int:
        """Plots nobody has reported on yet."""
        return max(self.planned - self.n_reported, 0)


@dataclass(frozen=True)
class Measured:
    """A measure with a name of its own and the lines that have it."""

    measure: str
    lines: list[tuple[Line, Estimate]]


@dataclass(frozen=True)
class RoundResults:
    """Everything the page of a round says about its figures."""

    survey_round: SurveyRound
    project: Project
    whole: Line | None
    blocks: list[Line]
    species: list[Line]
    plantings: list[Line]
    apart: list[Measured]
    tally: Tally
    tallies: Mapping[str, Tally]  # by block uid
    n_open_cases: int
    is_behind: bool
    units: str
    in_full: list[tuple[str, Estimate]]  # every method's survival of the blocks and of all, by label

    @property
    def target(self) -> float:
        return float(self.project.target_survival)

    @property
    def has_figures(self) -> bool:
        """Something was counted, even if it does not make a figure yet."""
        return any(figure.n_plots for line in self.blocks for figure in line.figures.values())

    @property
    def every(self) -> list[Estimate]:
        lines = [*([self.whole] if self.whole else []), *self.blocks, *self.species, *self.plantings]
        return [figure for line in lines for figure in line.figures.values()]

    @property
    def revision(self) -> int:
        return max((figure.revision for figure in self.every), default=0)

    @property
    def level(self) -> float:
        return max((figure.level for figure in self.every), default=0.95)

    @property
    def survival_blocks(self) -> list[Line]:
        """Blocks with planted trees to count, and those in which nothing was counted yet."""
        return [line for line in self.blocks if not line.figures or line.has_planted_trees]

    @property
    def pooled(self) -> Line | None:
        """The project line, where it says more than its only block does."""
        return self.whole if self.whole and self.whole.survival and len(self.survival_blocks) > 1 else None

    @property
    def stocked(self) -> list[Line]:
        return [line for line in self.blocks if rows.STOCKING in line.figures]

    @property
    def stocking_scale(self) -> int:
        """Trees per hectare at the right edge of the stocking bars."""
        tops = [line.stocking_target or 0 for line in self.stocked]
        tops += [line.figures[rows.STOCKING].upper or 0 for line in self.stocked]
        return rounded_up(max(tops, default=0))

    @property
    def not_found(self) -> int:
        return sum(line.not_found for line in self.blocks)

    @property
    def bounds(self) -> Line | None:
        """The line whose worst and best figure bound what deciding all that is open could give."""
        line = self.pooled or next(iter(self.survival_blocks), None)
        if line is None or line.survival is None or line.survival.value is None:
            return None
        is_open = line.worst is not line.survival or line.best is not line.survival
        return line if self.n_open_cases or self.not_found or is_open else None

    @property
    def share_surveyed(self) -> float | None:
        return self.whole.facts.get("share_surveyed") if self.whole else None


def rounded_up(number: float, step: int = 500) -> int:
    """A round number at or above, for the edge of a scale.

    >>> rounded_up(1201), rounded_up(0)
    (1500, 500)
    """
    return max(math.ceil(number / step), 1) * step


def round_results(survey_round: SurveyRound) -> RoundResults:
    """Read what is stored of a round. The caller has checked that the round may be seen."""
    wanted = ("project", "block", "species", "cohort")
    lines = lines_by_scope(headlines([survey_round.pk], scope__in=wanted))
    tallies = tallies_of(survey_round)
    blocks = with_silent_blocks(survey_round, lines.get("block", []))
    return RoundResults(
        survey_round=survey_round,
        project=survey_round.project,
        whole=next(iter(lines.get("project", [])), None),
        blocks=blocks,
        species=lines.get("species", []),
        plantings=lines.get("cohort", []),
        apart=apart(lines),
        tally=added(tallies.values()),
        tallies=tallies,
        n_open_cases=open_counts(survey_round).count(),
        is_behind=is_behind(survey_round),
        units=survey_round.organisation.units,
        in_full=in_full(survey_round, {line.key: line.label for line in blocks}),
    )


def open_counts(survey_round: SurveyRound) -> QuerySet[Case]:
    """Doubts about counts of a round that wait for a lead; what figures made doubtful is none of them."""
    rows = Case.objects.filter(round=survey_round, settled_seq__isnull=True)
    return rows.exclude(kind__in=CASES_OF_FIGURES)


def in_full(survey_round: SurveyRound, labels: Mapping[str, str]) -> list[tuple[str, Estimate]]:
    """Survival of each block, and of all together, by every method that was stored, the headline first."""
    found = Estimate.objects.filter(round=survey_round, measure=rows.SURVIVAL, value__isnull=False)
    stored = list(found.filter(scope__in=("block", "project")).order_by("-is_headline", "method"))
    named = [(labels.get(row.key, ""), row) for row in stored if row.scope == "block"]
    whole = [("", row) for row in stored if row.scope == "project"] if len(labels) > 1 else []
    return [*sorted(named, key=lambda pair: pair[0]), *whole]


def with_silent_blocks(survey_round: SurveyRound, lines: list[Line]) -> list[Line]:
    """Add the blocks of the round that have no figures at all yet."""
    known = {line.key for line in lines}
    blocks = RoundBlock.objects.filter(round=survey_round).select_related("block__site", "block__project")
    silent = [
        Line("block", str(row.block.uid), row.block) for row in blocks if str(row.block.uid) not in known
    ]
    return sorted([*lines, *silent], key=lambda line: (line.label, line.key))


def apart(lines: Mapping[str, list[Line]]) -> list[Measured]:
    """Measures that are not survival, each by block and species."""
    every = [*lines.get("block", []), *lines.get("species", [])]
    found = {name: [(line, line.figures[name]) for line in every if name in line.figures] for name in APART}
    return [Measured(name, measured) for name, measured in found.items() if measured]


def is_behind(survey_round: SurveyRound) -> bool:
    """Say whether counts came in that the figures do not hold yet."""
    mine = Q(kind="round", key=str(survey_round.pk))
    blocks = Q(kind="round_block", key__startswith=f"{survey_round.pk}:")
    return DirtyKey.objects.filter(mine | blocks, organisation_id=survey_round.organisation_id).exists()


def tallies_of(survey_round: SurveyRound) -> dict[str, Tally]:
    """Plots wanted, counted, destroyed and missing (with the reasons) by block uid."""
    uids = dict(Block.objects.filter(plots__visits__round=survey_round).values_list("id", "uid"))
    planned: dict[int, int] = {}
    wanted = RoundPlot.objects.filter(round=survey_round)
    for block_id, uid, number in (
        wanted.order_by().values_list("plot__block_id", "plot__block__uid").annotate(n=Count("id"))
    ):
        uids[block_id], planned[block_id] = uid, number
    seen = visits_by_status(survey_round)
    return {str(uid): tally(planned.get(pk, 0), seen.get(pk, {})) for pk, uid in uids.items()}


def visits_by_status(survey_round: SurveyRound) -> dict[int, dict[tuple[str, str], int]]:
    """Counting visits by block, status and reason; a plot nobody drew counts as outside."""
    drawn = RoundPlot.objects.filter(round=survey_round).values("plot_id")
    found: dict[int, dict[tuple[str, str], int]] = defaultdict(lambda: defaultdict(int))
    visits = Visit.objects.filter(round=survey_round, is_counting=True)
    for outside, chosen in ((False, visits.filter(plot__in=drawn)), (True, visits.exclude(plot__in=drawn))):
        groups = chosen.order_by().values_list("plot__block_id", "status", "reason").annotate(n=Count("id"))
        for block_id, status, reason, number in groups:
            found[block_id]["outside" if outside else status, reason] += number
    return found


def tally(planned: int, seen: Mapping[tuple[str, str], int]) -> Tally:
    totals: dict[str, int] = defaultdict(int)
    for (status, _reason), number in seen.items():
        totals[status] += number
    missing = sorted((reason, number) for (status, reason), number in seen.items() if status == "missing")
    return Tally(planned, totals["counted"], totals["destroyed"], totals["outside"], tuple(missing))


def added(tallies: Iterable[Tally]) -> Tally:
    """The plots of several blocks together."""
    tallies = list(tallies)
    reasons: dict[str, int] = defaultdict(int)
    for one in tallies:
        for reason, number in one.missing:
            reasons[reason] += number
    sums: dict[str, Any] = {
        name: sum(getattr(one, name) for one in tallies)
        for name in ("planned", "counted", "destroyed", "outside")
    }
    return Tally(**sums, missing=tuple(sorted(reasons.items())))

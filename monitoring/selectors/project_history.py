"""All rounds of a project as the curves take them: counts, removals with their days, planting spots followed."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from monitoring.estimators.domains import sample_of
from monitoring.estimators.history import Removals
from monitoring.estimators.rows import EstimateSettings
from monitoring.estimators.spots import ALIVE, DEAD, SpotMarks
from monitoring.estimators.table import Floats
from monitoring.models import CountLine, PlotBaseline, Removal, SurveyRound
from monitoring.selectors.occasions import blocks_counted, rounds_in_order
from monitoring.selectors.round_counts import RoundCounts, round_counts
from monitoring.selectors.round_facts import CohortRecord
from projects.models import Project

MARKS = {"alive": ALIVE, "dead_stem": DEAD, "empty_spot": DEAD}
UNTOLD = -1  # not found, or not assessed: it may live


@dataclass(frozen=True, slots=True)
class ProjectHistory:
    """What the curves of a project rest on; `rounds` are those in which plots were counted, oldest first."""

    project: Project
    rounds: tuple[SurveyRound, ...]
    counts: tuple[RoundCounts, ...]
    removals: Removals
    marks: SpotMarks
    cohorts: Mapping[str, CohortRecord]  # by identity, as the last round that holds it knows it

    @property
    def revision(self) -> int:
        """The log number the curves stand at."""
        return max((counts.revision for counts in self.counts), default=0)


def project_history(project: Project) -> ProjectHistory:
    """Read every round of a project; the number of queries grows with its rounds alone."""
    counted = blocks_counted(project.pk)
    rounds = tuple(row for row in rounds_in_order(project.pk) if row.pk in counted)
    counts = tuple(round_counts(row) for row in rounds)
    cohorts = {str(cohort.uid): cohort for one in counts for cohort in one.cohorts.values()}
    return ProjectHistory(
        project, rounds, counts, removals_of(project.pk), marks_of(project.pk, counts), cohorts
    )


def removals_of(project_id: int) -> Removals:
    """Living trees taken out on purpose in the plots of a project, with the cohort they belonged to."""
    rows = list(
        Removal.objects.filter(plot__block__project_id=project_id, is_counted=True)
        .order_by("plot__uid", "removed_on", "baseline_line", "uid")
        .values_list("plot__uid", "baseline_line", "removed_on", "alive_removed")
    )
    cohorts = cohorts_of_lines(row[1] for row in rows)
    known = [row for row in rows if row[1] in cohorts]
    return Removals(
        plots=[str(row[0]) for row in known],
        cohorts=[cohorts[row[1]] for row in known],
        day=[row[2].toordinal() for row in known],
        trees=[row[3] for row in known],
    )


def cohorts_of_lines(lines: Iterable) -> dict:
    """Cohort of each baseline line that has one."""
    rows = PlotBaseline.objects.filter(line__in=set(lines), is_current=True, cohort__isnull=False)
    return {line: str(cohort) for line, cohort in rows.values_list("line", "cohort__uid")}


def marks_of(project_id: int, counts: Sequence[RoundCounts]) -> SpotMarks:
    """Status of every planting spot that a counting visit tells apart, by round."""
    visit = {
        visit.id: (number, str(visit.plot_uid)) for number, one in enumerate(counts) for visit in one.visits
    }
    lines = CountLine.objects.filter(
        visit__round__project_id=project_id, visit__is_counting=True, baseline__cohort__isnull=False
    ).exclude(spots=[])
    rows = lines.order_by("visit__plot__uid", "visit__round_id", "position")
    found = [
        (*visit[pk][::-1], str(cohort), mark["spot"], MARKS.get(mark["status"], UNTOLD))
        for pk, cohort, spots in rows.values_list("visit_id", "baseline__cohort__uid", "spots")
        if pk in visit
        for mark in spots
    ]
    plots, rounds, cohorts, spots, statuses = zip(*found, strict=True) if found else ((),) * 5
    return SpotMarks(plots=plots, cohorts=cohorts, spots=spots, rounds=rounds, statuses=statuses)


def sampled_fraction(history: ProjectHistory, blocks: Sequence[str], settings: EstimateSettings) -> Floats:
    """Smallest share of its plots that a round visited in each block, for the finite-population correction."""
    found = np.ones(len(blocks))
    place = {uid: number for number, uid in enumerate(blocks)}
    for counts in history.counts:
        sample = sample_of(counts.table, settings)
        for code, uid in enumerate(counts.table.labels["block"]):
            if sample.visited[code]:
                found[place[uid]] = min(found[place[uid]], sample.fraction[code])
    return found

"""Survival over time: stored curves of every cohort, and of what each season planted in a block and in the project."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from monitoring.estimators import CODE_VERSION
from monitoring.estimators.curves import Curve, CurveInputs, CurvePoint, curves
from monitoring.estimators.history import history
from monitoring.estimators.resampling import Resampling
from monitoring.estimators.spots import spot_intervals
from monitoring.models import SurvivalCurve
from monitoring.selectors.occasions import occasion
from monitoring.selectors.project_history import ProjectHistory, project_history, sampled_fraction
from monitoring.services import derived, estimates
from projects.identifiers import derived_uid
from projects.models import Project


def part(organisation_id: int, project_id: int) -> derived.Part:
    """All curves of a project."""
    owned = SurvivalCurve.objects.filter(organisation_id=organisation_id, project_id=project_id)
    projects = Project.objects.filter(organisation_id=organisation_id, pk=project_id)
    project = projects.select_related("organisation").first()
    return derived.Part(owned, curves_of(project) if project else [])


def curves_of(project: Project) -> list[SurvivalCurve]:
    """Estimate the curves from every round of the project."""
    found = project_history(project)
    if not found.rounds:
        return []
    settings = estimates.settings_of(project)
    counts = history([occasion(one) for one in found.counts], found.removals)
    mark = digest(found)
    inputs = CurveInputs(
        counts=counts,
        spots=spot_intervals(counts, found.marks),
        season=tuple(str(found.cohorts[uid].season_uid) for uid in counts.cohorts),
        planted=np.array([found.cohorts[uid].planted or -1 for uid in counts.cohorts], dtype=np.int64),
        settings=settings,
        resampling=Resampling(
            counts.plot,
            counts.block,
            sampled_fraction(found, counts.blocks, settings),
            seed=int(mark[:15], 16),
        ),
        project=str(project.uid),
    )
    return [stored(curve, found, mark) for curve in curves(inputs)]


def digest(found: ProjectHistory) -> str:
    """Hash everything the curves rest on."""
    return derived.digest(
        [estimates.stamp(counts).input_digest for counts in found.counts],
        [[str(row.uid), row.name] for row in found.rounds],
        [[visit.observed_on for visit in counts.visits] for counts in found.counts],
        [list(found.removals.plots), list(found.removals.cohorts), found.removals.day, found.removals.trees],
        [[list(column) for column in marks_of(found)]],
        [[uid, cohort.planted, cohort.mean_planted_day] for uid, cohort in sorted(found.cohorts.items())],
    )


def marks_of(found: ProjectHistory) -> Sequence[Sequence[Any]]:
    marks = found.marks
    return marks.plots, marks.cohorts, marks.spots, marks.rounds, marks.statuses


def stored(curve: Curve, found: ProjectHistory, mark: str) -> SurvivalCurve:
    """One stored curve; its points name their rounds."""
    project = found.project
    return SurvivalCurve(
        uid=derived_uid("curve", project.uid, curve.scope, curve.key, curve.method),
        organisation_id=project.organisation_id, project_id=project.pk, scope=curve.scope, key=curve.key,
        method=curve.method, level=curve.level, n_plots=curve.n_plots, n_trees=curve.n_trees,
        status=curve.status, reason=estimates.fitting(curve.reason),
        points=[point_of(point, found) for point in curve.points],
        facts={"removed": curve.n_removed, "came_back": curve.came_back},
        input_digest=mark, code_version=CODE_VERSION, revision=found.revision,
    )  # fmt: skip


def point_of(point: CurvePoint, found: ProjectHistory) -> dict[str, Any]:
    """One point as it is stored; the first is the planting and has no round."""
    survey_round = found.rounds[point.round] if point.round >= 0 else None
    return {
        "round": str(survey_round.uid) if survey_round else None,
        "name": survey_round.name if survey_round else "",
        "age_days": point.age_days,
        "survival": point.survival,
        "lower": point.lower,
        "upper": point.upper,
        "plots": point.n_plots,
        "trees": point.n_trees,
        "rose": point.rose,
    }

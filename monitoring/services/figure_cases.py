"""Doubts that figures raise: a plot far from its neighbours, totals that disagree. Rebuilt from counts and decisions.

They never change a figure, and go away when the counts no longer give reason for them.
"""

import json
from collections.abc import Iterator, Sequence
from typing import Any

from monitoring.estimators import outliers, rows
from monitoring.estimators.rows import rounded
from monitoring.estimators.season import SeasonTotals, Total
from monitoring.models import Case, CaseKind, PlotStatus, SurveyRound, Visit
from monitoring.selectors.headlines import APART, headlines, lines_by_scope
from monitoring.selectors.round_counts import RoundCounts
from monitoring.selectors.season_rows import totals_of
from monitoring.services import derived, dirty
from monitoring.services.cases import DECISION
from projects.identifiers import derived_uid
from projects.models import Decision

LEDGER, AREA = "ledger", "area"


# --- plots far from the others --------------------------------------------------------------
def outlier_part(counts: RoundCounts, block_id: int) -> derived.Part:
    """The cases of a block's plots that stand far from the others."""
    cases = [outlier_case(counts, *one) for one in far_plots(counts)]
    owned = Case.objects.filter(
        kind=CaseKind.OUTLIER, round=counts.survey_round, plot__block_id=block_id,
        organisation_id=counts.survey_round.organisation_id,
    )  # fmt: skip
    return derived.Part(owned, with_decisions(cases))


def far_plots(counts: RoundCounts) -> Iterator[tuple[Visit, dict[str, Any]]]:
    """Each plot far from the others of its block, with what makes it so. A destroyed plot is explained already."""
    shares = outliers.plot_shares(counts.table)
    found = outliers.distances(shares.block, shares.alive, shares.trees)
    far = {int(shares.plot[place]): place for place in found.far.nonzero()[0]}
    pks = {counts.visits[plot].id: place for plot, place in far.items()}
    visits = Visit.objects.filter(pk__in=list(pks), status=PlotStatus.COUNTED).select_related("plot")
    for visit in visits.order_by("plot__uid"):
        place = pks[visit.pk]
        yield (
            visit,
            {
                "head": str(visit.uid),
                "alive": int(shares.alive[place]),
                "trees": int(shares.trees[place]),
                "usual": round(float(found.usual[place]), 3),
                "deviations": round(float(found.deviations[place]), 1),
            },
        )


def outlier_case(counts: RoundCounts, visit: Visit, facts: dict[str, Any]) -> Case:
    survey_round = counts.survey_round
    return Case(
        uid=derived_uid("case", CaseKind.OUTLIER, visit.plot.uid, survey_round.uid, visit.root),
        organisation_id=survey_round.organisation_id, kind=CaseKind.OUTLIER, round=survey_round,
        plot=visit.plot, visit_root=visit.root, facts=facts,
    )  # fmt: skip


# --- totals that disagree -------------------------------------------------------------------
def totals_part(organisation_id: int, project_id: int) -> derived.Part:
    """The cases of a project's rounds whose living trees by ledger and by area disagree."""
    rounds = SurveyRound.objects.filter(project_id=project_id, organisation_id=organisation_id)
    cases = [
        totals_case(one, totals)
        for one in rounds.select_related("project").order_by("uid")
        if (totals := totals_of_round(one)).disagree
    ]
    owned = Case.objects.filter(
        kind=CaseKind.TOTALS_DISAGREE, round__project_id=project_id, organisation_id=organisation_id
    )
    return derived.Part(owned, with_decisions(cases))


def totals_of_round(survey_round: SurveyRound) -> SeasonTotals:
    """Living planted trees of a round by both routes, from its stored figures."""
    figures = headlines([survey_round.pk], scope__in=("project", "block"))
    lines = lines_by_scope(figures.filter(measure__in=(rows.SURVIVAL, rows.STOCKING_PLANTED, *APART)))
    whole = next(iter(lines.get("project", [])), None)
    return totals_of(survey_round.project, whole, lines.get("block", []))


def totals_case(survey_round: SurveyRound, totals: SeasonTotals) -> Case:
    assert totals.from_ledger is not None and totals.from_area is not None
    higher = LEDGER if totals.from_ledger.value > totals.from_area.value else AREA
    return Case(
        uid=derived_uid("case", CaseKind.TOTALS_DISAGREE, "", survey_round.uid, ""),
        organisation_id=survey_round.organisation_id, kind=CaseKind.TOTALS_DISAGREE, round=survey_round,
        facts={
            "head": higher, "from_ledger": shown(totals.from_ledger), "from_area": shown(totals.from_area),
        },
    )  # fmt: skip


def shown(total: Total) -> dict[str, Any]:
    """A total in whole trees, as a figure is written."""
    numbers = {name: int(rounded(getattr(total, name)) or 0) for name in ("value", "lower", "upper")}
    return {"measure": "trees", "level": total.level, **numbers}


# --- decisions ------------------------------------------------------------------------------
def with_decisions(cases: Sequence[Case]) -> list[Case]:
    """Settle the cases that the latest decision about them covers: the same count, the same side higher."""
    told = latest_decisions(cases)
    for case in cases:
        seq, body = told.get(case.uid, (None, {}))
        if body.get("head") == case.facts["head"]:
            case.settled_seq, case.settled_as = seq, body.get("as", "")
    return list(cases)


def latest_decisions(cases: Sequence[Case]) -> dict[Any, tuple[int, dict[str, Any]]]:
    """The latest decision about each of some cases, in its own organisation: its log number and what it says."""
    found = Decision.objects.filter(
        organisation_id__in={case.organisation_id for case in cases},
        kind=DECISION,
        subject_uid__in=[case.uid for case in cases],
    ).order_by("seq")
    return {row.subject_uid: (row.seq, json.loads(row.body)) for row in found}


def settle(case: Case, decision: Decision) -> None:
    """Have what opened the case look again, and show the decision at once.

    In this order, as a worker takes them: it holds its key while it writes the case.
    """
    if case.round is not None:
        keys = [dirty.Key(dirty.PROJECT, str(case.round.project_id))]
        if case.plot is not None:
            keys.append(dirty.Key(dirty.ROUND_BLOCK, f"{case.round_id}:{case.plot.block_id}"))
        dirty.mark(case.organisation_id, keys)
    Case.objects.filter(pk=case.pk).update(
        settled_seq=decision.seq, settled_as=json.loads(decision.body).get("as", "")
    )

"""What a decision of the log does up here: settle the plot it is about, and mark its figures."""

import json

from monitoring.models import CASES_OF_FIGURES, Case, SurvivalPlot
from monitoring.services import cases, figure_cases, invasives, settling
from projects.models import Decision
from projects.services import log


def register() -> None:
    """Hand the handler to the log."""
    log.kinds.decisions[cases.DECISION] = apply_case_decision


def apply_case_decision(decision: Decision) -> None:
    """Settle the plot of a case again and mark the rounds that changed; a case of figures is only settled."""
    case = case_of(decision)
    if case is not None and case.kind in CASES_OF_FIGURES:
        figure_cases.settle(case, decision)
        return
    plot = plot_of(decision, case)
    if plot is not None:
        settling.mark_touched(settling.settle_plot(plot))
        invasives.open_tasks(plot)


def case_of(decision: Decision) -> Case | None:
    rows = Case.objects.select_related("round", "plot")
    return rows.filter(uid=decision.subject_uid, organisation_id=decision.organisation_id).first()


def plot_of(decision: Decision, case: Case | None) -> SurvivalPlot | None:
    """Return the plot a decision is about: of its case, or the one it names where the doubt has gone."""
    ours = {"organisation_id": decision.organisation_id}
    plots = SurvivalPlot.objects.select_related("block__site")
    if case is not None:
        return plots.get(pk=case.plot_id)
    named = json.loads(decision.body).get("plot")
    return plots.filter(uid=named, **ours).first() if named else None

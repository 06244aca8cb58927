"""What a decision of the log does up here: settle the plot it is about, and mark its figures."""

import json

from monitoring.models import Case, SurvivalPlot
from monitoring.services import cases, invasives, settling
from projects.models import Decision
from projects.services import log


def register() -> None:
    """Hand the handler to the log."""
    log.kinds.decisions[cases.DECISION] = apply_case_decision


def apply_case_decision(decision: Decision) -> None:
    """Settle the plot of a case again and mark the rounds that changed."""
    plot = plot_of(decision)
    if plot is not None:
        settling.mark_touched(settling.settle_plot(plot))
        invasives.open_tasks(plot)


def plot_of(decision: Decision) -> SurvivalPlot | None:
    """Return the plot a decision is about: of its case, or the one it names where the doubt has gone."""
    ours = {"organisation_id": decision.organisation_id}
    plots = SurvivalPlot.objects.select_related("block__site")
    case = Case.objects.filter(uid=decision.subject_uid, **ours).first()
    if case is not None:
        return plots.get(pk=case.plot_id)
    named = json.loads(decision.body).get("plot")
    return plots.filter(uid=named, **ours).first() if named else None

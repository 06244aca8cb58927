"""What a decision of the log does up here: settle the plot it is about, and mark its figures."""

from monitoring.models import Case
from monitoring.services import cases, dirty, settling
from projects.models import Decision
from projects.services import log


def register() -> None:
    """Hand the handler to the log."""
    log.kinds.decisions[cases.DECISION] = apply_case_decision


def apply_case_decision(decision: Decision) -> None:
    """Settle the plot of a case again and mark the round."""
    case = (
        Case.objects.filter(organisation_id=decision.organisation_id, uid=decision.subject_uid)
        .select_related("plot__block__site", "round")
        .first()
    )
    if case is None:
        return
    settling.settle_plot(case.plot)
    if case.round is not None:
        dirty.mark_counts(
            organisation_id=case.organisation_id,
            round_id=case.round.pk,
            block_id=case.plot.block_id,
            project_id=case.plot.block.project_id,
        )

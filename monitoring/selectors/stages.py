"""Which blocks of a round further plots could settle."""

from django.db.models import QuerySet

from monitoring.estimators import outcome, rows
from monitoring.models import Estimate, SurveyRound


def open_blocks(survey_round: SurveyRound) -> QuerySet[Estimate]:
    """The survival figures of blocks that are not settled and that further plots would likely settle."""
    return (
        Estimate.objects.filter(
            round=survey_round, scope="block", measure=rows.SURVIVAL, is_headline=True,
            outcome=outcome.NOT_SETTLED, next_step=outcome.COUNT_MORE_PLOTS, more_plots__gt=0,
        )
        .select_related("block__site", "block__project")
        .order_by("block__name", "block_id")
    )  # fmt: skip

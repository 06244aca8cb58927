"""What was sown and what came up in a round: spots held, seeds sown, seedlings found in its counting visits."""

from dataclasses import dataclass

from django.db.models import F, Q, Sum
from django.db.models.functions import Least

from monitoring.models import CountLine, SurveyRound
from projects.models import Unit


@dataclass(frozen=True)
class Sown:
    """Sums over the counted plots: of spots or seeds, of those with a seedling, and of seedlings found.

    `seedlings` is None where nobody counted seedlings; `looked_at` are the occupied spots where they did.
    """

    planted: int
    alive: int
    seedlings: int | None
    looked_at: int


def of_round(survey_round: SurveyRound) -> dict[str, Sown]:
    """Return the sums of each unit that is sown, keyed by unit; one query."""
    lines = CountLine.objects.filter(
        visit__round=survey_round, visit__is_counting=True, planted__isnull=False
    ).exclude(unit=Unit.TREE)
    sums = lines.order_by().values("unit").annotate(
        sown=Sum(F("planted") - F("not_assessed")),
        living=Sum(Least(F("alive"), F("planted"))),
        found=Sum("seedlings"),
        looked=Sum(Least(F("alive"), F("planted")), filter=Q(seedlings__isnull=False)),
    )  # fmt: skip
    return {row["unit"]: Sown(row["sown"], row["living"], row["found"], row["looked"] or 0) for row in sums}

"""Where home leads those who do not decide: a volunteer to the phone form, a funder to the season summaries."""

from typing import Any

from monitoring import access
from monitoring.models import RoundStatus
from projects.access import Actor
from projects.models import Organisation

MOST_SUMMARIES = 5


def of_home(actor: Actor, organisation: Organisation) -> dict[str, Any]:
    """Return {"way", ...}: "count" with whether a round is open, "read" with the latest summaries, or ""."""
    if actor.may("round.edit"):
        return {"way": ""}
    if actor.may("visit.add"):
        rounds = access.visible_rounds(actor).filter(project__archived_at__isnull=True)
        return {"way": "count", "has_round": rounds.filter(status=RoundStatus.OPEN).exists()}
    editions = access.visible_summaries(actor).defer("rows").select_related("project", "season")
    return {"way": "read", "editions": list(editions.order_by("-made_on", "-id")[:MOST_SUMMARIES])}

"""How far to trust a round: one page beside its figures."""

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from monitoring import access
from monitoring.selectors.trust import trust_of
from projects.views.saving import crumb, url


@require_GET
def trust(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Show what is open about a round, what deciding it could give, and how well people count."""
    survey_round = access.round_for(request.actor, uid)
    context = {
        "round": survey_round,
        "trust": trust_of(survey_round),
        "cases_url": url(request, "monitoring:case_list") + f"?round={survey_round.uid}",
        "crumbs": [
            crumb(request, _("Rounds"), "monitoring:round_list"),
            crumb(request, survey_round.name, "monitoring:round_detail", uid=survey_round.uid),
        ],
    }
    return render(request, "monitoring/round_trust.html", context)

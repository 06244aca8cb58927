"""Which species and lots did well."""

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from monitoring import access
from monitoring.selectors.compare import comparisons
from monitoring.selectors.results import is_behind
from projects.views.saving import crumb


@require_GET
def compare(request: HttpRequest, uid: UUID) -> HttpResponse:
    survey_round = access.round_for(request.actor, uid, "performance.view")
    context = {
        "round": survey_round,
        "scopes": comparisons(survey_round),
        "is_behind": is_behind(survey_round),
        "crumbs": [
            crumb(request, _("Rounds"), "monitoring:round_list"),
            crumb(request, survey_round.name, "monitoring:round_detail", uid=uid),
        ],
    }
    return render(request, "monitoring/compare.html", context)

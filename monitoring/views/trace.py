"""From a survival figure down to lots, deliveries, days and crews, and back up."""

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from monitoring.selectors import trace, trace_subjects
from monitoring.selectors.trace_subjects import Subject
from projects.paging import page
from projects.views.saving import crumb

PLANTINGS_ON_A_PAGE = 25


@require_GET
def where_from(request: HttpRequest, uid: UUID, noun: str) -> HttpResponse:
    """What is known of how the plantings of one thing came."""
    return drawn(request, trace_subjects.NOUNS[noun](request.actor, uid, request.GET))


@require_GET
def crew(request: HttpRequest) -> HttpResponse:
    """All that one crew planted; without a name, the crews to choose from."""
    name = request.GET.get("name", "")
    if name:
        return drawn(request, trace_subjects.of_crew(request.actor, name))
    return render(request, "monitoring/trace_crews.html", {"crews": trace_subjects.crews(request.actor)})


def drawn(request: HttpRequest, subject: Subject) -> HttpResponse:
    key = ("block__name", "-season__starts_on", "id")
    found = page(trace.plantings_of(request.actor, subject), request, key, PLANTINGS_ON_A_PAGE)
    context = {
        "subject": subject, "traced": trace.traced(request.actor, subject, found.rows), "found": found,
        "crumbs": [crumb(request, subject.label, subject.page, uid=subject.uid)] if subject.page else [
            crumb(request, _("Stock"), "projects:stock")
        ],
    }  # fmt: skip
    return render(request, "monitoring/trace.html", context)

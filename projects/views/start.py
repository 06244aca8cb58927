"""The front door: lead a signed-in member to their organisation."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from projects import access


@require_GET
@login_required
def start(request: HttpRequest) -> HttpResponse:
    """Go to the only organisation, or choose among several."""
    memberships = list(access.memberships_of(request.user))
    if len(memberships) == 1:
        return redirect("projects:home", org=memberships[0].organisation.slug)
    return render(request, "projects/start.html", {"memberships": memberships})

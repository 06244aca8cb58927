"""The whole history of one thing, and the progress of long work."""

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from projects import access
from projects.paging import page
from projects.selectors.records import whole_history
from projects.views.saving import crumb, url


@require_GET
def history(request: HttpRequest, uid: UUID) -> HttpResponse:
    found = page(whole_history(request.actor, uid), request, ("-id",))
    label = found.rows[0].subject_label if found.rows else ""
    return render(request, "projects/history.html", {"page": found, "label": label})


@require_GET
def job_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Show how far the work is; the page's own fragment answers when it asks again by itself."""
    job = access.job_for(request.actor, uid)
    context = {"job": job, "url": url(request, "job_detail", uid=uid), "result": _result(request, job)}
    if request.headers.get("HX-Request") and not request.headers.get("HX-History-Restore-Request"):
        return render(request, "projects/_job.html", context)
    return render(
        request, "projects/job_detail.html", {**context, "crumbs": [crumb(request, _("To decide"), "home")]}
    )


def _result(request: HttpRequest, job: access.models.Job) -> dict[str, str]:
    """Return the way on and the reason a job left, as far as its link stays inside this organisation."""
    result = job.result if isinstance(job.result, dict) else {}
    link = str(result.get("link", ""))
    inside = link.startswith(f"/o/{request.actor.organisation.slug}/")
    return {"link": link if inside else "", "message": str(result.get("message", ""))}

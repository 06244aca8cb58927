"""The whole history of one thing, and the progress of long work."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from projects import access
from projects.errors import Refusal
from projects.paging import page
from projects.selectors.records import whole_history
from projects.services import jobs
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
    context = {
        "job": job,
        "url": url(request, "job_detail", uid=uid),
        "cancel": cancel_url(request, job),
        "result": _result(request, job),
    }
    if request.headers.get("HX-Request") and not request.headers.get("HX-History-Restore-Request"):
        return render(request, "projects/_job.html", context)
    return render(
        request, "projects/job_detail.html", {**context, "crumbs": [crumb(request, _("To decide"), "home")]}
    )


@require_POST
def job_cancel(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Call long work off and go back to the page it was asked for on."""
    job = access.job_for(request.actor, uid)
    try:
        jobs.cancel(actor=request.actor, job=job)
    except Refusal as refusal:
        messages.error(request, refusal.message)
    link = str(job.parameters.get("link", ""))
    return redirect(link if _is_inside(request, link) else url(request, "job_detail", uid=uid))


def cancel_url(request: HttpRequest, job: access.models.Job | None) -> str:
    """Return where a person may call a job off; nothing where they may not, or did already."""
    if job is None or job.cancel_asked_at or not jobs.may_cancel(request.actor, job):
        return ""
    return url(request, "job_cancel", uid=job.uid)


def _is_inside(request: HttpRequest, link: str) -> bool:
    return link.startswith(f"/o/{request.actor.organisation.slug}/")


def _result(request: HttpRequest, job: access.models.Job) -> dict[str, str]:
    """Return the way on and the reason a job left, as far as its link stays inside this organisation."""
    result = job.result if isinstance(job.result, dict) else {}
    link = str(result.get("link", ""))
    return {"link": link if _is_inside(request, link) else "", "message": str(result.get("message", ""))}

"""Field passes: who may count with which phone."""

from uuid import UUID

import segno
from django.contrib import messages
from django.db.models import Prefetch, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from monitoring.forms.plots import PassForm
from monitoring.services import passes
from projects import access
from projects.errors import Refusal
from projects.models import FieldPassProject
from projects.paging import page
from projects.views.saving import attempt, crumb, posted, to


@require_GET
def pass_list(request: HttpRequest) -> HttpResponse:
    request.actor.require("field_pass.view")
    rows = access.visible_field_passes(request.actor).select_related("person")
    rows = rows.prefetch_related("round_grants__round", Prefetch("work_projects", work_projects(request)))
    found = page(rows, request, key=("-id",))
    context = {
        "found": found,
        "now": timezone.now(),
        "crumbs": [crumb(request, _("Rounds"), "monitoring:round_list")],
    }
    return render(request, "monitoring/pass_list.html", context)


@require_http_methods(["GET", "POST"])
def pass_new(request: HttpRequest) -> HttpResponse:
    """Issue a pass; its code is shown on the answer to this very post and never again."""
    request.actor.require("field_pass.issue")
    form = PassForm(posted(request), actor=request.actor)
    if request.method == "POST":
        issued = attempt(form, passes.issue, actor=request.actor)
        if issued:
            return shown_once(request, issued)
    return render(request, "monitoring/pass_form.html", {"form": form}, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def pass_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Show a pass; a post gives it a new code."""
    field_pass = access.field_pass_for(request.actor, uid)
    if request.method == "POST":
        try:
            return shown_once(request, passes.renew_code(actor=request.actor, field_pass=field_pass))
        except Refusal as refusal:
            messages.error(request, refusal.message)
    context = {
        "pass": field_pass,
        "grants": field_pass.round_grants.select_related("round__project"),
        "work_projects": work_projects(request).filter(field_pass=field_pass).order_by("project__name"),
        "is_valid": field_pass.is_valid(timezone.now()),
        "history": access.visible_history(request.actor).filter(subject_uid=field_pass.uid)[:50],
        "crumbs": [crumb(request, _("Phones"), "monitoring:pass_list")],
    }
    return render(request, "monitoring/pass_detail.html", context)


@require_POST
def pass_revoke(request: HttpRequest, uid: UUID) -> HttpResponse:
    field_pass = access.field_pass_for(request.actor, uid)
    passes.revoke(actor=request.actor, field_pass=field_pass, reason=request.POST.get("reason", "")[:300])
    messages.success(request, _("The pass is ended. What the phone has not sent yet stays on the phone."))
    return to(request, "monitoring:pass_detail", uid=uid)


def work_projects(request: HttpRequest) -> QuerySet[FieldPassProject]:
    """Return the projects passes name for field work, those the reader may see."""
    rows = FieldPassProject.objects.filter(project__in=access.visible_projects(request.actor))
    return rows.select_related("project")


def shown_once(request: HttpRequest, issued: passes.Issued) -> HttpResponse:
    """Show the code and its QR; the code travels after a #, so that no server log ever holds it."""
    address = request.build_absolute_uri(reverse("phone:shell")) + f"#code={issued.code}"
    picture = segno.make(address, error="m").svg_data_uri(dark="#1d2b4a", scale=6)
    context = {"pass": issued.field_pass, "code": issued.code, "address": address, "qr": picture}
    response = render(request, "monitoring/pass_code.html", context)
    response["Cache-Control"] = "no-store"
    return response

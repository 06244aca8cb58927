"""Upload a file of counts: choose it, say what its columns mean, look at what would happen, put it in."""

import csv
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.defaultfilters import filesizeformat
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from monitoring import access
from monitoring.forms.uploads import ColumnsForm, UploadForm
from monitoring.models import SurveyRound, Upload
from monitoring.selectors import uploads as pages
from monitoring.services import uploads as services
from projects.errors import Refusal
from projects.views.large_bodies import is_too_large, refused
from projects.views.records import cancel_url
from projects.views.saving import crumb, refuse, to, url


@csrf_exempt  # the check for it reads the body; the view below is protected
@require_http_methods(["GET", "POST"])
def upload_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Refuse by its announced length what is too large, then take the file."""
    survey_round = access.round_for(request.actor, uid, "upload.add")
    if is_too_large(request, settings.COUNT_FILE_MAX_BYTES):
        return refused(request, settings.COUNT_FILE_MAX_BYTES, crumbs=crumbs(request, survey_round))
    return choose_file(request, survey_round)


@csrf_protect
def choose_file(request: HttpRequest, survey_round: SurveyRound) -> HttpResponse:
    """Take a file and go on to its columns."""
    form = UploadForm(request.POST, request.FILES) if request.method == "POST" else UploadForm()
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        try:
            upload = services.receive(
                actor=request.actor, survey_round=survey_round, file_name=file.name, content=file.read()
            )
        except Refusal as refusal:
            refuse(form, refusal)
        else:
            return to(request, "monitoring:upload_detail", uid=upload.uid)
    context = {
        "form": form,
        "round": survey_round,
        "limit": filesizeformat(settings.COUNT_FILE_MAX_BYTES),
        "earlier": pages.earlier_uploads(request.actor, survey_round),
        "crumbs": crumbs(request, survey_round),
    }
    return render(request, "monitoring/upload_new.html", context, status=422 if form.errors else 200)


@require_GET
def upload_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Show how an upload stands; while it is worked on, the page asks again by itself for the progress."""
    upload = access.upload_for(request.actor, uid)
    page = pages.upload_page(upload)
    if request.headers.get("HX-Request") and not request.headers.get("HX-History-Restore-Request"):
        if page.stage != "working":
            return HttpResponse(headers={"HX-Refresh": "true"})
        here = url(request, "monitoring:upload_detail", uid=uid)
        context = {"job": upload.job, "url": here, "cancel": cancel_url(request, upload.job)}
        return render(request, "partials/progress.html", context)
    return draw(request, page, ColumnsForm(None, upload=upload))


@require_POST
def upload_map(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Take over what the columns mean and have the file checked."""
    upload = access.upload_for(request.actor, uid)
    form = ColumnsForm(request.POST, upload=upload)
    if form.is_valid():
        values = {name: form.cleaned_data[name] for name in ("columns", "observed_on")}
        try:
            services.start_check(actor=request.actor, upload=upload, **values)
        except Refusal as refusal:
            messages.error(request, refusal.message)
        return to(request, "monitoring:upload_detail", uid=uid)
    page = pages.upload_page(upload)
    page.stage = "map"
    return draw(request, page, form)


@require_POST
def upload_import(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Have a checked file put in."""
    upload = access.upload_for(request.actor, uid)
    try:
        services.start_import(actor=request.actor, upload=upload)
    except Refusal as refusal:
        messages.error(request, refusal.message)
    return to(request, "monitoring:upload_detail", uid=uid)


@require_GET
def upload_template(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Give out the plots and baselines of a round as a CSV to fill in; UTF-8 with its mark, for spreadsheets."""
    survey_round = access.round_for(request.actor, uid, "upload.add")
    response = HttpResponse(content_type="text/csv; charset=utf-8; header=present")
    name = slugify(survey_round.name) or "round"
    response["Content-Disposition"] = f'attachment; filename="{name}-to-fill-in.csv"'
    response.write("\ufeff")
    csv.writer(response).writerows(pages.template_rows(survey_round))
    return response


def draw(request: HttpRequest, page: pages.UploadPage, form: ColumnsForm) -> HttpResponse:
    """Draw the page of an upload."""
    upload: Upload = page.upload
    context = {
        "page": page,
        "upload": upload,
        "round": upload.round,
        "form": form,
        "url": url(request, "monitoring:upload_detail", uid=upload.uid),
        "cancel": cancel_url(request, upload.job),
        "crumbs": [
            *crumbs(request, upload.round),
            crumb(request, _("Upload counts"), "monitoring:upload_new", uid=upload.round.uid),
        ],
    }
    return render(request, "monitoring/upload_detail.html", context, status=422 if form.errors else 200)


def crumbs(request: HttpRequest, survey_round: SurveyRound) -> list[dict[str, str]]:
    """Return the way to the pages of an upload."""
    return [
        crumb(request, _("Rounds"), "monitoring:round_list"),
        crumb(request, survey_round.name, "monitoring:round_detail", uid=survey_round.uid),
    ]

"""The whole table of species as a file: taken out, described for machines, brought back."""

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from projects.errors import Refusal
from projects.forms.species_table import TableForm
from projects.services import species_table as services
from projects.views.saving import crumb, to, url
from species.fact_table import schema, write_table
from species.selectors.table import fact_rows


@require_GET
def species_table(request: HttpRequest) -> HttpResponse:
    actor = request.actor
    actor.require("species.view")
    text = write_table(fact_rows(actor.organisation.uid))
    response = HttpResponse(text, content_type="text/csv; charset=utf-8; header=present")
    response["Content-Disposition"] = 'attachment; filename="species-facts.csv"'
    response["Link"] = f'<{url(request, "species_table_schema")}>; rel="describedby"; type="application/json"'
    return response


@require_GET
def species_table_schema(request: HttpRequest) -> HttpResponse:
    request.actor.require("species.view")
    response = JsonResponse(schema(), json_dumps_params={"indent": 2, "ensure_ascii": False})
    response["Content-Disposition"] = 'attachment; filename="species-facts.schema.json"'
    return response


@require_http_methods(["GET", "POST"])
def species_import(request: HttpRequest) -> HttpResponse:
    """Choose a file, see what it would change, put it in."""
    actor = request.actor
    actor.require("species.edit")
    form = TableForm(request.POST, request.FILES) if request.method == "POST" else TableForm()
    found = services.Reading()
    if form.is_bound and form.is_valid():
        content = form.cleaned_data["content"]
        done = put_in(request, form, content) if form.cleaned_data["is_seen"] else None
        if done is not None:
            return done
        found = services.read(actor=actor, content=content)
        if found.problems and not form.errors:
            form.add_error("file", _("Nothing was put in. Mend the file and choose it again."))
    return shown(request, form, found)


def put_in(request: HttpRequest, form: forms.Form, content: bytes) -> HttpResponse | None:
    """Put the changes in and go to the list; None where the file has problems by now."""
    try:
        done = services.put_in(actor=request.actor, content=content)
    except Refusal as refusal:
        form.add_error("file", refusal.message)
        return None
    messages.success(
        request, _("Put in: %(added)s added, %(changed)s changed, %(taken_back)s taken back.") % done.acts()
    )
    return to(request, "species:list")


def shown(request: HttpRequest, form: forms.Form, found: services.Reading) -> HttpResponse:
    confirm = write_table(change.row for change in found.changes) if not found.problems else ""
    context = {
        "form": form, "found": found, "acts": found.acts(), "is_read": form.is_bound and not form.errors,
        "confirm": confirm if found.changes else "", "crumbs": [crumb(request, _("Species"), "species:list")],
    }  # fmt: skip
    return render(request, "species/table_import.html", context, status=422 if form.errors else 200)

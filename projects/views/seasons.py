"""Seasons: when trees go in, and what a funder's page covers."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from projects import access
from projects.forms.places import SeasonForm
from projects.paging import page
from projects.services import seasons as services
from projects.views.saving import attempt, crumb, form_page, posted, to, url


@require_GET
def season_list(request: HttpRequest) -> HttpResponse:
    request.actor.require("season.view")
    found = page(access.visible_seasons(request.actor), request, ("-starts_on", "id"))
    return render(request, "projects/season_list.html", {"page": found})


@require_http_methods(["GET", "POST"])
def season_new(request: HttpRequest) -> HttpResponse:
    request.actor.require("season.edit")
    form = SeasonForm(posted(request), initial={"kind": request.GET.get("kind", "planting")})
    if form.is_bound and attempt(form, services.make_season, actor=request.actor):
        messages.success(request, _("The season is on the list."))
        return to(request, "season_list")
    return form_page(
        request, form, title=_("Add a season"), submit=_("Add the season"), back=url(request, "season_list"),
        crumbs=[crumb(request, _("Seasons"), "season_list")],
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def season_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    season = access.season_for(request.actor, uid, "season.edit")
    form = SeasonForm(posted(request), instance=season)
    if form.is_bound and attempt(form, services.edit_season, actor=request.actor, season=season):
        messages.success(request, _("Saved."))
        return to(request, "season_list")
    return form_page(
        request, form, title=_("Change %(name)s") % {"name": season}, submit=_("Save"),
        back=url(request, "season_list"), crumbs=[crumb(request, _("Seasons"), "season_list")],
    )  # fmt: skip

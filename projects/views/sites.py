"""Sites: the list, one site with its map and blocks, adding, changing, putting away."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access, clocks, panels
from projects.countries import names as country_names
from projects.forms.places import SiteForm
from projects.paging import page
from projects.selectors import places
from projects.selectors.readiness import readiness_of
from projects.selectors.records import history_of
from projects.services import sites as services
from projects.views.saving import attempt, crumb, form_page, posted, shelf, to, url


@require_GET
def site_list(request: HttpRequest) -> HttpResponse:
    actor = request.actor
    actor.require("site.view")
    away = "away" in request.GET
    found = page(access.visible_sites(actor).filter(archived_at__isnull=not away), request)
    rows = places.site_rows(actor, found)
    return render(request, "projects/site_list.html", {"page": found, "rows": rows, "away": away})


@require_GET
def site_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    site = access.site_for(actor, uid)
    context = {
        "site": site,
        "country": country_names().get(site.country_code, site.country_code),
        "blocks": places.site_blocks(actor, site),
        "seasons": places.site_seasons(actor, site),
        "shapes": places.site_shapes(actor, site),
        "panels": panels.filled("site", actor, site),
        "readiness": readiness_of(site, clocks.today_at(site)) if actor.may("assessment.view") else None,
        "history": history_of(actor, [site.uid]),
        "crumbs": [crumb(request, _("Sites"), "site_list")],
    }
    return render(request, "projects/site_detail.html", context)


@require_http_methods(["GET", "POST"])
def site_new(request: HttpRequest) -> HttpResponse:
    actor = request.actor
    actor.require("site.edit")
    form = SiteForm(
        posted(request), request.FILES or None, initial={"time_zone": actor.organisation.time_zone}
    )
    if form.is_bound and (site := attempt(form, services.make_site, actor=actor)):
        messages.success(request, _("The site is there. Next: divide it into blocks."))
        return to(request, "site_detail", uid=site.uid)
    _ask_less(form)
    return form_page(
        request, form, title=_("Add a site"), submit=_("Add the site"), back=url(request, "site_list"),
        crumbs=[crumb(request, _("Sites"), "site_list")], map=_map(None),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def site_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    site = access.site_for(actor, uid, "site.edit")
    form = SiteForm(posted(request), request.FILES or None, instance=site)
    if form.is_bound and attempt(form, services.edit_site, actor=actor, site=site):
        messages.success(request, _("Saved."))
        return to(request, "site_detail", uid=uid)
    _ask_less(form)
    return form_page(
        request, form, title=_("Change %(name)s") % {"name": site}, submit=_("Save"),
        back=url(request, "site_detail", uid=uid), map=_map(places.site_shapes(actor, site)),
        crumbs=[crumb(request, _("Sites"), "site_list"), crumb(request, site, "site_detail", uid=uid)],
    )  # fmt: skip


def _ask_less(form: SiteForm) -> None:
    if form.is_bound:
        form.ask_less()


def _map(shapes: dict | None) -> dict:
    blocks = [each for each in shapes["features"] if each["properties"]["kind"] == "block"] if shapes else []
    around = {"type": "FeatureCollection", "features": blocks} if blocks else None
    return {"field": "boundary", "label": _("Map to draw the boundary on"), "shapes": around}


@require_POST
def site_archive(request: HttpRequest, uid: UUID) -> HttpResponse:
    site = access.site_for(request.actor, uid, "site.edit")
    words = (_("The site is put away; nothing of it is lost."), _("The site is back in use."))
    return shelf(
        request, services.archive_site, services.restore_site, words, page="site_detail", uid=uid, site=site
    )

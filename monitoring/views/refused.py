"""Records that were refused: kept with their bytes and the reasons, for a lead to look into."""

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from monitoring import access
from monitoring.selectors import refused
from projects.paging import page
from projects.views.saving import crumb


@require_GET
def refused_list(request: HttpRequest) -> HttpResponse:
    request.actor.require("case.view")
    found = page(access.visible_refused(request.actor), request, key=("-id",))
    context = {
        "found": found,
        "rows": refused.rows(request.actor, found.rows),
        "crumbs": [crumb(request, _("Rounds"), "monitoring:round_list")],
    }
    return render(request, "monitoring/refused_list.html", context)


@require_GET
def refused_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    item = access.refused_for(request.actor, uid)
    laid_out, as_it_came = refused.texts(item)
    context = {
        "row": refused.rows(request.actor, [item])[0],
        "laid_out": laid_out,
        "as_it_came": as_it_came,
        "crumbs": [crumb(request, _("Refused records"), "monitoring:refused_list")],
    }
    return render(request, "monitoring/refused_detail.html", context)

"""Stock: what is on hand and how long it can wait; nurseries."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access, clocks, panels
from projects.countries import names as country_names
from projects.forms.stock import NurseryForm
from projects.paging import page
from projects.selectors import offers, orders
from projects.selectors import stock as selectors
from projects.selectors.records import history_of
from projects.services import nurseries
from projects.views.saving import attempt, crumb, form_page, posted, shelf, to, url


@require_GET
def stock(request: HttpRequest) -> HttpResponse:
    actor = request.actor
    actor.require("lot.view")
    away, today = "away" in request.GET, clocks.today_of(actor.organisation)
    found = page(selectors.lot_list(actor, archived=away), request, ("-received_on", "code", "id"))
    context = {
        "page": found,
        "rows": selectors.lot_rows(found, today),
        "away": away,
        "nurseries": selectors.nursery_rows(actor)[:100],
        "orders": orders.order_rows(selectors.open_orders(actor)[:30], today),
    }
    return render(request, "projects/stock.html", context)


@require_GET
def nursery_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    nursery = access.nursery_for(actor, uid)
    lots = selectors.lot_list(actor).filter(nursery=nursery)
    found = page(lots, request, ("-received_on", "code", "id"))
    today = clocks.today_of(actor.organisation)
    ordered, on_time = orders.nursery_orders(actor, nursery, today)
    context = {
        "nursery": nursery,
        "orders": ordered,
        "on_time": on_time,
        "offers": offers.price_list(actor, nursery),
        "offers_away": offers.price_list(actor, nursery, archived=True),
        "today": today,
        "country": country_names().get(nursery.country_code, ""),
        "page": found,
        "rows": selectors.lot_rows(found, today),
        "panels": panels.filled("nursery", actor, nursery),
        "history": history_of(actor, [nursery.uid]),
        "crumbs": [crumb(request, _("Stock"), "stock")],
    }
    return render(request, "projects/nursery_detail.html", context)


@require_http_methods(["GET", "POST"])
def nursery_new(request: HttpRequest) -> HttpResponse:
    request.actor.require("nursery.edit")
    form = NurseryForm(posted(request))
    if form.is_bound and (nursery := attempt(form, nurseries.make_nursery, actor=request.actor)):
        messages.success(request, _("The nursery is there."))
        return to(request, "nursery_detail", uid=nursery.uid)
    return form_page(
        request, form, title=_("Add a nursery"), submit=_("Add the nursery"), back=url(request, "stock"),
        crumbs=[crumb(request, _("Stock"), "stock")],
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def nursery_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    nursery = access.nursery_for(request.actor, uid, "nursery.edit")
    form = NurseryForm(posted(request), instance=nursery)
    if form.is_bound and attempt(form, nurseries.edit_nursery, actor=request.actor, nursery=nursery):
        messages.success(request, _("Saved."))
        return to(request, "nursery_detail", uid=uid)
    return form_page(
        request, form, title=_("Change %(name)s") % {"name": nursery}, submit=_("Save"),
        back=url(request, "nursery_detail", uid=uid), crumbs=[crumb(request, _("Stock"), "stock")],
    )  # fmt: skip


@require_POST
def nursery_archive(request: HttpRequest, uid: UUID) -> HttpResponse:
    nursery = access.nursery_for(request.actor, uid, "nursery.edit")
    words = (_("The nursery is put away; its lots stay."), _("The nursery is back in use."))
    return shelf(
        request, nurseries.archive_nursery, nurseries.restore_nursery, words,
        page="nursery_detail", uid=uid, nursery=nursery,
    )  # fmt: skip

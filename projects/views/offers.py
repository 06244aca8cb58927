"""What a nursery sells: its price list, line by line or read from a spreadsheet."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from projects import access
from projects.forms.offers import EXAMPLE, OfferForm, PriceListForm
from projects.models import Nursery
from projects.services import offers as services
from projects.views.saving import act, attempt, crumb, form_page, posted, to, url


def crumbs_of(request: HttpRequest, nursery: Nursery) -> list[dict[str, str]]:
    return [
        crumb(request, _("Stock"), "stock"),
        crumb(request, nursery, "nursery_detail", uid=nursery.uid),
    ]


@require_http_methods(["GET", "POST"])
def offer_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    nursery = access.nursery_for(actor, uid, "nursery.edit")
    form = OfferForm(actor, posted(request))
    if form.is_bound and attempt(form, services.make_offer, actor=actor, nursery=nursery):
        messages.success(request, _("It is on the price list."))
        return to(request, "nursery_detail", uid=uid)
    return form_page(
        request, form, title=_("Add to the price list of %(name)s") % {"name": nursery},
        submit=_("Add it"), back=url(request, "nursery_detail", uid=uid), crumbs=crumbs_of(request, nursery),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def offer_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    offer = access.offer_for(actor, uid, "nursery.edit")
    nursery = offer.nursery
    form = OfferForm(actor, posted(request), instance=offer)
    if form.is_bound and attempt(form, services.edit_offer, actor=actor, offer=offer):
        messages.success(request, _("Saved. Orders and plans keep the price they were made with."))
        return to(request, "nursery_detail", uid=nursery.uid)
    return form_page(
        request, form, title=_("Change the price of %(name)s") % {"name": offer}, submit=_("Save"),
        back=url(request, "nursery_detail", uid=nursery.uid), crumbs=crumbs_of(request, nursery),
    )  # fmt: skip


@require_POST
def offer_archive(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    offer = access.offer_for(actor, uid, "nursery.edit")
    restoring = "restore" in request.POST
    service = services.restore_offer if restoring else services.archive_offer
    done = _("It is on the price list again.") if restoring else _("It is put away; orders of it stay.")
    return act(request, service, done, "nursery_detail", offer.nursery.uid, offer=offer)


@require_http_methods(["GET", "POST"])
def price_list_read(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    nursery = access.nursery_for(actor, uid, "nursery.edit")
    form = PriceListForm(actor, posted(request), request.FILES or None)
    done = attempt(form, services.take_price_list, actor=actor, nursery=nursery) if form.is_bound else None
    if done is not None:
        words = _("Read: %(added)s added, %(changed)s changed, %(put_away)s put away.")
        messages.success(request, words % done)
        return to(request, "nursery_detail", uid=uid)
    context = {
        "form": form, "nursery": nursery, "example": EXAMPLE, "crumbs": crumbs_of(request, nursery),
        "back": url(request, "nursery_detail", uid=uid),
    }  # fmt: skip
    return render(request, "projects/price_list_read.html", context, status=422 if form.errors else 200)

"""Deliveries: taken in lot by lot, listed, corrected."""

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from projects import access, clocks, panels
from projects.errors import Refusal
from projects.forms.receiving import MOST_LOTS, ArrivedForm, DeliveryForm, DeliveryHead, species_choices
from projects.identifiers import uuid7
from projects.models import OrderLine, StockOrder
from projects.paging import page
from projects.selectors import deliveries as selectors
from projects.selectors.order_progress import LineStanding
from projects.selectors.papers import papers_of
from projects.selectors.records import history_of
from projects.services import receiving
from projects.views.saving import attempt, crumb, form_page, posted, refuse, to, url


@require_GET
def delivery_list(request: HttpRequest) -> HttpResponse:
    """What came, and when."""
    request.actor.require("lot.view")
    found = page(selectors.delivery_list(request.actor), request, ("-delivered_on", "-id"))
    crumbs = [crumb(request, _("Stock"), "stock")]
    return render(request, "projects/delivery_list.html", {"page": found, "crumbs": crumbs})


@require_GET
def delivery_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    delivery = access.delivery_for(actor, uid)
    rows = selectors.lots_of(actor, delivery, clocks.today_of(actor.organisation))
    context = {
        "delivery": delivery,
        "rows": rows,
        "papers": papers_of(actor, [delivery, *(row.standing.lot for row in rows)]),
        "panels": panels.filled("delivery", actor, delivery),
        "history": history_of(actor, [delivery.uid, *(row.standing.lot.uid for row in rows)]),
        "crumbs": [crumb(request, _("Stock"), "stock"), crumb(request, _("What came"), "delivery_list")],
    }
    return render(request, "projects/delivery_detail.html", context)


@require_http_methods(["GET", "POST"])
def delivery_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    delivery = access.delivery_for(request.actor, uid, "lot.edit")
    form = DeliveryForm(posted(request), instance=delivery)
    if form.is_bound and attempt(form, receiving.edit_delivery, actor=request.actor, delivery=delivery):
        messages.success(request, _("Saved."))
        return to(request, "delivery_detail", uid=uid)
    return form_page(
        request, form, title=_("Correct a delivery"), submit=_("Save"),
        back=url(request, "delivery_detail", uid=uid), crumbs=[crumb(request, _("Stock"), "stock")],
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def delivery_new(request: HttpRequest) -> HttpResponse:
    """Take in what came without an order."""
    request.actor.require("lot.edit")
    return _receive(request, None, [])


@require_http_methods(["GET", "POST"])
def order_receive(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Take in what came for an order, whole or in part."""
    order = access.order_for(request.actor, uid, "lot.edit")
    waited_for = selectors.still_to_come(order, clocks.today_of(request.actor.organisation))
    return _receive(request, order, waited_for)


def _receive(
    request: HttpRequest, order: StockOrder | None, waited_for: Sequence[LineStanding]
) -> HttpResponse:
    """One form with a row a lot. “Another lot” draws it again with a row more and all that was written."""
    lines = [row.line for row in waited_for]
    one_more = "more" in request.POST
    bound = request.method == "POST" and not one_more
    head = _head(request, order, bound, len(lines) or 1)
    rows = _rows(request, lines, bound, _row_count(request, len(lines) or 1))
    if bound:
        received = _taken_in(request, order, head, rows)
        if received is not None:
            _say(request, received)
            return to(request, "delivery_detail", uid=received.delivery.uid)
    back = url(request, "order_detail", uid=order.uid) if order else url(request, "stock")
    crumbs = [crumb(request, _("Stock"), "stock")]
    if order is not None:
        crumbs.append(crumb(request, order.reference or order.project, "order_detail", uid=order.uid))
    context = {
        "order": order, "head": head, "rows": rows, "back": back, "crumbs": crumbs, "has_problems": bound,
        "may_add": len(rows) < MOST_LOTS, "waited_for": [row for row in waited_for if row.progress.to_come > 0],
    }  # fmt: skip
    return render(request, "projects/delivery_receive.html", context, status=422 if bound else 200)


def _row_count(request: HttpRequest, usual: int) -> int:
    told = request.POST.get("rows", "")
    count = int(told) if told.isascii() and told.isdigit() and len(told) < 4 else usual
    return max(1, min(MOST_LOTS, count + ("more" in request.POST)))


def _head(request: HttpRequest, order: StockOrder | None, bound: bool, usual: int) -> DeliveryHead:
    if bound:
        return DeliveryHead(request.actor, request.POST, with_order=order is not None)
    begun = {
        "uid": uuid7(),
        "delivered_on": clocks.today_of(request.actor.organisation),
        "nursery": request.GET.get("nursery"),
    }
    initial: dict[str, Any] = {**begun, **request.POST.dict(), "rows": _row_count(request, usual)}
    return DeliveryHead(request.actor, initial=initial, with_order=order is not None)


def _rows(request: HttpRequest, lines: list[OrderLine], bound: bool, count: int) -> list[ArrivedForm]:
    species = species_choices(request.actor)
    rows = []
    for at in range(count):
        prefix = f"lot{at}"
        told: dict[str, Any] = {"line": str(lines[at].uid)} if at < len(lines) else {}
        told |= {
            key.removeprefix(f"{prefix}-"): value
            for key, value in request.POST.items()
            if key.startswith(f"{prefix}-")
        }
        data = request.POST if bound else None
        rows.append(ArrivedForm(request.actor, lines, data, prefix=prefix, initial=told, species=species))
    return rows


def _taken_in(
    request: HttpRequest, order: StockOrder | None, head: DeliveryHead, rows: list[ArrivedForm]
) -> receiving.Received | None:
    told = [row for row in rows if not row.is_empty]
    if not all([head.is_valid(), *(row.is_valid() for row in told)]):
        return None
    values = {name: value for name, value in head.cleaned_data.items() if name != "rows"}
    arrived = [row.arrived() for row in told]
    try:
        return receiving.receive_delivery(actor=request.actor, order=order, arrived=arrived, **values)
    except receiving.LotRefused as refusal:
        refuse(told[refusal.at], refusal)
    except Refusal as refusal:
        refuse(head, refusal)
    return None


def _say(request: HttpRequest, received: receiving.Received) -> None:
    if received.made:
        messages.success(
            request, _("Received. Check each lot before it is planted: roots, warmth, a sample.")
        )
    if received.already:
        codes = ", ".join(lot.code for lot in received.already)
        messages.info(request, _("In already and left as they are: %(codes)s.") % {"codes": codes})

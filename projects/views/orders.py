"""Stock orders: which are under way, one order and its steps, a new one, the sheet that is sent."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access, clocks, panels
from projects.access import Actor
from projects.documents.order_sheet import order_csv as csv_of
from projects.documents.order_sheet import order_pages
from projects.documents.typesetting import set_pages
from projects.forms.orders import CloseForm, ConfirmForm, NewOrderForm, OrderForm
from projects.models import StockOrder
from projects.paging import page
from projects.selectors import orders as selectors
from projects.selectors.order_progress import standing_of
from projects.selectors.papers import papers_of
from projects.selectors.records import history_of
from projects.services import orders as services
from projects.views.saving import act, attempt, crumb, form_page, posted, to, url

BYTE_ORDER_MARK = "\ufeff"  # without it spreadsheets misread letters beyond English


def crumbs_of(request: HttpRequest, order: StockOrder | None = None) -> list[dict[str, str]]:
    found = [crumb(request, _("Stock"), "stock"), crumb(request, _("Orders"), "order_list")]
    return (
        found
        if order is None
        else [*found, crumb(request, order.reference or order.project, "order_detail", uid=order.uid)]
    )


@require_GET
def order_list(request: HttpRequest) -> HttpResponse:
    """Show what is ordered: open, late or all of it."""
    actor = request.actor
    actor.require("order.view")
    today = clocks.today_of(actor.organisation)
    show = request.GET.get("show", "")
    show = show if show in selectors.SHOWN else "open"
    found = page(selectors.order_list(actor, show, today), request, ("-id",))
    context = {
        "show": show,
        "page": found,
        "rows": selectors.order_rows(found.rows, today),
        "crumbs": [crumb(request, _("Stock"), "stock")],
    }
    return render(request, "projects/order_list.html", context)


@require_http_methods(["GET", "POST"])
def order_new(request: HttpRequest) -> HttpResponse:
    """Write an order by hand, with its first line."""
    actor = request.actor
    actor.require("order.edit")
    initial = {name: request.GET.get(name) for name in ("project", "nursery") if request.GET.get(name)}
    form = NewOrderForm(actor, posted(request), initial={"currency": actor.organisation.currency} | initial)
    if form.is_bound and (order := attempt(form, _draft, actor=actor)):
        messages.success(request, _("The draft is there. Add what else it asks for, then place it."))
        return to(request, "order_detail", uid=order.uid)
    return form_page(
        request, form, title=_("Order plants or seed"), submit=_("Draft the order"),
        back=url(request, "order_list"), crumbs=crumbs_of(request),
        intro=_("With its first line; more lines are added to the draft."),
    )  # fmt: skip


def _draft(*, actor: Actor, **values: Any) -> StockOrder:
    """Draft an order of one line."""
    of_order = {name: values.pop(name) for name in NewOrderForm.OF_THE_ORDER}
    return services.draft_order(
        actor=actor, lines=[services.Line(**values)], prices_from_list=True, **of_order
    )


@require_http_methods(["GET", "POST"])
def order_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Show an order with how far it has come; a manager places it or calls it off here."""
    actor = request.actor
    order = access.order_for(actor, uid, "order.view" if request.method == "GET" else "order.edit")
    if request.method == "POST":
        return _turned(request, order)
    standing = standing_of(order, clocks.today_of(actor.organisation))
    lots = selectors.lots_of_order(actor, standing)
    deliveries = list(access.visible_deliveries(actor).filter(order=order).order_by("delivered_on", "id"))
    context = {
        "order": order,
        "standing": standing,
        "seen_lots": {lot.pk for lot in lots},
        "deliveries": deliveries,
        "may_edit": actor.may("order.edit"),
        "is_open": order.status in services.UNDER_WAY,
        "last_word": selectors.last_word(actor, order),
        "papers": papers_of(actor, [order, *deliveries, *lots]),
        "panels": panels.filled("order", actor, order),
        "history": history_of(actor, [order.uid]),
        "crumbs": crumbs_of(request),
    }
    return render(request, "projects/order_detail.html", context)


def _turned(request: HttpRequest, order: StockOrder) -> HttpResponse:
    """Do what the pressed button says, and show the order again."""
    if "place" in request.POST:
        done = _("Noted as placed. Send it to the nursery yourself; nothing was sent from here.")
        return act(request, services.place_order, done, "order_detail", order.uid, order=order)
    reason = request.POST.get("reason", "")
    if "cancel" in request.POST:
        done = _("The order is called off.")
        return act(
            request, services.cancel_order, done, "order_detail", order.uid, order=order, reason=reason
        )
    return to(request, "order_detail", uid=order.uid)


@require_http_methods(["GET", "POST"])
def order_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Change a draft's nursery, dates and terms."""
    order = access.order_for(request.actor, uid, "order.edit")
    form = OrderForm(request.actor, posted(request), instance=order)
    if form.is_bound and attempt(form, services.edit_order, actor=request.actor, order=order):
        messages.success(request, _("Saved."))
        return to(request, "order_detail", uid=uid)
    return _step(request, order, form, _("Change the draft"), _("Save the draft"))


@require_http_methods(["GET", "POST"])
def order_confirm(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Write down what the nursery answered."""
    actor = request.actor
    order = access.order_for(actor, uid, "order.edit")
    form = ConfirmForm(order, posted(request), initial={"confirmed_on": clocks.today_of(actor.organisation)})
    if form.is_bound and attempt(form, _confirm, actor=actor, order=order):
        messages.success(request, _("The nursery's answer is written down."))
        return to(request, "order_detail", uid=uid)
    intro = _(
        "Whatever the nursery will not send is seen on the order at once, so that it can be found elsewhere in time."
    )
    title = _("What did the nursery confirm?")
    return _step(request, order, form, title, _("Write it down"), intro=intro)


def _confirm(*, order: StockOrder, **values: Any) -> StockOrder:
    """Confirm with the numbers of the lines taken apart from the rest."""
    numbers = {
        int(name.removeprefix("line-")): values.pop(name) for name in list(values) if name.startswith("line-")
    }
    return services.confirm_order(order=order, quantities=numbers, **values)


@require_http_methods(["GET", "POST"])
def order_close(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Say that nothing more is to come."""
    actor = request.actor
    order = access.order_for(actor, uid, "order.edit")
    missing = standing_of(order, clocks.today_of(actor.organisation)).to_come
    form = CloseForm(missing > 0, posted(request))
    if form.is_bound and attempt(form, services.close_order, actor=actor, order=order):
        messages.success(request, _("The order is closed."))
        return to(request, "order_detail", uid=uid)
    intro = _("Everything it waits for has come.")
    if missing:
        intro = _("%(number)s have not come. Closed, the order waits for them no longer.") % {
            "number": missing
        }
    return _step(request, order, form, _("Close the order"), _("Close it"), intro=intro)


@require_POST
def order_reopen(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Take back that an order was closed or called off."""
    order = access.order_for(request.actor, uid, "order.edit")
    done, reason = _("The order is open again."), request.POST.get("reason", "")
    return act(request, services.reopen_order, done, "order_detail", uid, order=order, reason=reason)


def _step(
    request: HttpRequest, order: StockOrder, form: Any, title: str, submit: str, **more: Any
) -> HttpResponse:
    back = url(request, "order_detail", uid=order.uid)
    return form_page(
        request, form, title=title, submit=submit, back=back, crumbs=crumbs_of(request, order), **more
    )


@require_GET
def order_pdf(request: HttpRequest, uid: UUID) -> HttpResponse:
    """The sheet that goes to the nursery."""
    order = access.order_for(request.actor, uid)
    standing = standing_of(order, clocks.today_of(order.organisation))
    answer = HttpResponse(set_pages(order_pages(standing)), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{file_name(order)}.pdf"'
    return answer


@require_GET
def order_csv(request: HttpRequest, uid: UUID) -> HttpResponse:
    """The lines of an order as a table."""
    order = access.order_for(request.actor, uid)
    standing = standing_of(order, clocks.today_of(order.organisation))
    answer = HttpResponse(BYTE_ORDER_MARK + csv_of(standing), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{file_name(order)}.csv"'
    return answer


def file_name(order: StockOrder) -> str:
    """A name to keep the sheet under: the reference, else the project, in plain letters."""
    name = slugify(order.reference or order.project.name)[:60] or "order"
    return f"order-{name}-{str(order.uid)[-6:]}"

"""The lines of a draft order: added, changed, taken out."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from projects import access
from projects.forms.orders import LineForm
from projects.services import order_lines as services
from projects.views.orders import crumbs_of
from projects.views.saving import act, attempt, form_page, posted, to, url


@require_http_methods(["GET", "POST"])
def order_line_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    order = access.order_for(actor, uid, "order.edit")
    form = LineForm(actor, order.project, posted(request), initial={"currency": order.currency})
    if form.is_bound and attempt(form, services.add_line, actor=actor, order=order):
        messages.success(request, _("The line is added."))
        return to(request, "order_detail", uid=uid)
    return form_page(
        request, form, title=_("Add a line to the order"), submit=_("Add the line"),
        back=url(request, "order_detail", uid=uid), crumbs=crumbs_of(request, order),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def order_line_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    line = access.order_line_for(actor, uid, "order.edit")
    form = LineForm(actor, line.order.project, posted(request), instance=line)
    if form.is_bound and attempt(form, services.change_line, actor=actor, line=line):
        messages.success(request, _("Saved."))
        return to(request, "order_detail", uid=line.order.uid)
    return form_page(
        request, form, title=_("Change a line of the order"), submit=_("Save"),
        back=url(request, "order_detail", uid=line.order.uid), crumbs=crumbs_of(request, line.order),
    )  # fmt: skip


@require_POST
def order_line_remove(request: HttpRequest, uid: UUID) -> HttpResponse:
    line = access.order_line_for(request.actor, uid, "order.edit")
    return act(
        request, services.remove_line, _("The line is taken out."), "order_detail", line.order.uid, line=line
    )


@require_POST
def order_line_agree(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Say that something else that came may stand for a line."""
    actor = request.actor
    line = access.order_line_for(actor, uid, "order.edit")
    lot = access.visible_lots(actor).filter(order_line=line, uid=uid_or_none(request.POST.get("lot"))).first()
    if lot is None:
        messages.error(request, _("This lot did not come for this line."))
        return to(request, "order_detail", uid=line.order.uid)
    done, reason = _("It stands for the line now."), request.POST.get("reason", "")
    return act(
        request, services.agree_to, done, "order_detail", line.order.uid, line=line, lot=lot, reason=reason
    )


def uid_or_none(text: str | None) -> UUID | None:
    try:
        return UUID(text or "")
    except ValueError:
        return None

"""What to order, and by when."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from monitoring.selectors import needs
from monitoring.services.orders_from_needs import draft_from_needs
from projects import access
from projects.errors import Refusal


@require_GET
def need_list(request: HttpRequest) -> HttpResponse:
    """Needs of every project, or of the one named in the address."""
    request.actor.require("need.view")
    project = chosen_project(request)
    projects = access.visible_projects(request.actor).current().order_by("name", "id")
    context = {"found": needs.need_page(request.actor, project), "project": project, "projects": projects}
    return render(request, "monitoring/need_list.html", context)


@require_POST
def need_order(request: HttpRequest) -> HttpResponse:
    """Draft an order for what one block needs; asked twice, show the same draft."""
    request.actor.require("need.order")
    org = request.actor.organisation.slug
    try:
        block = access.block_for(request.actor, block_uid(request.POST.get("block")), "need.order")
        chosen = request.POST.get("stock_type", "")
        order = draft_from_needs(actor=request.actor, block=block, stock_type=chosen)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect("monitoring:need_list", org=org)
    messages.success(request, _("The draft is made. Choose the nursery, then place the order."))
    return redirect("projects:order_detail", org=org, uid=order.uid)


def block_uid(text: str | None) -> UUID:
    if not text:
        raise Refusal(_("Choose the block to order for."), field="block")
    return uid_of(text)


def chosen_project(request: HttpRequest):
    """The project in the address, if one is named."""
    named = request.GET.get("project")
    return access.project_for(request.actor, uid_of(named)) if named else None


def uid_of(text: str | None) -> UUID:
    """An identifier a form sent; nonsense names nothing."""
    try:
        return UUID(text or "")
    except ValueError as wrong:
        raise Http404(_("There is nothing at this address.")) from wrong

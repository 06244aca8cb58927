"""How many plants a plan needs, to be sure enough; what to order of whom by when; and when they should come."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_POST

from projects import access, clocks
from projects.errors import Refusal
from projects.forms.plan_quantities import DeliveriesForm
from projects.forms.plans import told
from projects.models import Plan
from projects.selectors import plan_buying, plan_deliveries, plan_targets
from projects.selectors.offers import current_offers
from projects.selectors.plans import PlanFrame, frame_of
from projects.services import plan_quantities as services
from projects.views.plans import plan_crumbs
from projects.views.saving import to


@require_GET
def plan_quantities(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    plan = access.plan_for(actor, uid)
    frame = frame_of(actor, plan)
    form = DeliveriesForm(sorted({line.stock_type for line in frame.lines}), request.GET)
    context = {
        "plan": plan, "title": told(plan), "frame": frame, "form": form,
        "crumbs": plan_crumbs(request, plan),
        "orders": plan_buying.orders_of_plan(str(plan.uid), plan.project_id),
        **figures_of(request, plan, frame, form),
    }  # fmt: skip
    return render(request, "projects/plan_quantities.html", context, status=422 if form.errors else 200)


def figures_of(request: HttpRequest, plan: Plan, frame: PlanFrame, form: DeliveriesForm) -> dict[str, Any]:
    """Everything that is worked out for the page."""
    organisation = request.actor.organisation
    today = clocks.today_of(organisation)
    expected = plan_targets.expected_of(frame)
    days = plan_buying.days_of_lines(frame, today)
    bought = plan_buying.to_buy(frame, days, current_offers(organisation, today), today)
    targets = plan_targets.targets_of(frame, expected)
    return {
        "today": today,
        "targets": [{"row": row, "survival": survival_of(row, expected)} for row in targets],
        "bought": bought,
        "total": total_of(bought),
        "deliveries": plan_deliveries.deliveries_of(frame, bought, days, form.waits(), form.days(), today),
    }  # fmt: skip


def survival_of(
    row: plan_targets.BlockTarget, expected: dict[int, plan_targets.Expected]
) -> list[dict[str, Any]]:
    """Each kind of a block with the survival it goes by."""
    return [{"line": line, "planted": planted, "expected": expected[line.pk]} for line, planted in row.kinds]


def total_of(bought: list[plan_buying.ToBuy]) -> dict[str, Any]:
    """Plants and money of everything that has a price; what has none is counted apart."""
    costs = [part.cost_minor for row in bought for part in row.parts]
    return {
        "planted": sum(row.planted for row in bought),
        "ordered": sum(part.quantity for row in bought for part in row.parts),
        "cost_minor": sum(cost for cost in costs if cost is not None),
        "missing": sum(row.missing for row in bought),
    }


@require_POST
def plan_enough(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    plan = access.plan_for(actor, uid, "plan.edit")
    try:
        block = access.block_for(actor, UUID(request.POST.get("block", "")), "block.view")
        services.plant_enough(actor=actor, plan=plan, block_uid=block.uid)
    except ValueError:
        messages.error(request, _("Choose a block of the plan."))
    except Refusal as refusal:
        messages.error(request, refusal.message)
    else:
        messages.success(request, _("The mix of %(name)s is scaled.") % {"name": block.name})
    return to(request, "plan_quantities", uid=uid)


@require_POST
def plan_orders(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    plan = access.plan_for(actor, uid, "order.edit")
    try:
        found, is_new = services.draft_orders(actor=actor, plan=plan)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return to(request, "plan_quantities", uid=uid)
    words = ngettext("%(n)s order is drafted.", "%(n)s orders are drafted.", len(found))
    if not is_new:
        words = _("The orders of this plan were drafted before. To draft them afresh, call those off first.")
    messages.success(request, words % {"n": len(found)} if is_new else words)
    return to(request, "plan_quantities", uid=uid)

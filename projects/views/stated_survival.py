"""What survival to expect of a planting: the statements of an organisation, and what is usual."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access
from projects.errors import Refusal
from projects.forms.stated_survival import StatedSurvivalForm
from projects.models import StockType
from projects.selectors.foreseen_survival import usual_survival
from projects.services import stated_survival as services
from projects.views.saving import attempt, crumb, form_page, posted, to, url


@require_GET
def survival_prior_list(request: HttpRequest) -> HttpResponse:
    actor = request.actor
    actor.require("plan.view")
    rows = access.visible_survival_priors(actor).select_related("project", "species")
    labels = dict(StockType.choices)
    context = {
        "rows": [
            {"row": row, "stock": labels.get(row.stock_type, "")}
            for row in rows.order_by("project__name", "species__scientific_name", "stock_type", "id")
        ],
        "usual": [{"stock": label, "survival": usual_survival(name)} for name, label in StockType.choices],
    }
    return render(request, "projects/survival_prior_list.html", context)


@require_http_methods(["GET", "POST"])
def survival_prior_new(request: HttpRequest) -> HttpResponse:
    actor = request.actor
    actor.require("plan.edit")
    first = {name: request.GET[name] for name in ("project", "species", "stock_type") if name in request.GET}
    form = StatedSurvivalForm(actor, posted(request), initial=first | {"weight_trees": 10})
    if form.is_bound and attempt(form, services.state_survival, actor=actor):
        messages.success(request, _("It is stated. Plots that are counted will outweigh it."))
        return to(request, "survival_prior_list")
    return _page(request, form, _("State what survival you expect"))


@require_http_methods(["GET", "POST"])
def survival_prior_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    prior = access.survival_prior_for(actor, uid, "plan.edit")
    form = StatedSurvivalForm(actor, posted(request), instance=prior)
    if form.is_bound and attempt(form, services.change_survival, actor=actor, prior=prior):
        messages.success(request, _("Saved. Plans keep the survival they were made with."))
        return to(request, "survival_prior_list")
    return _page(request, form, _("Change what survival you expect"))


def _page(request: HttpRequest, form: StatedSurvivalForm, title: str) -> HttpResponse:
    return form_page(
        request, form, title=title, submit=_("Save"), back=url(request, "survival_prior_list"),
        crumbs=[crumb(request, _("What survival to expect"), "survival_prior_list")],
    )  # fmt: skip


@require_POST
def survival_prior_remove(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    prior = access.survival_prior_for(actor, uid, "plan.edit")
    try:
        services.take_back(actor=actor, prior=prior)
    except Refusal as refusal:
        messages.error(request, refusal.message)
    else:
        messages.success(request, _("It is taken back."))
    return to(request, "survival_prior_list")

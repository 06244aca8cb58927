"""A project's money by season and block, what is set aside, and the costs of its plan."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods

from projects import access, figures, panels
from projects.forms.budget import PlanCostsForm, SetAsideForm
from projects.models import Project
from projects.selectors import money as selectors
from projects.selectors.planned_cost import planned_cost_of_a_tree
from projects.selectors.records import history_of
from projects.services import budget as services
from projects.services import plan_costs as costs
from projects.views.saving import attempt, crumb, form_page, posted, to, url


def money_crumbs(request: HttpRequest, project: Project, *, inside: bool = True) -> list[dict[str, str]]:
    """The way to a page about a project's money."""
    found = [
        crumb(request, _("Projects"), "project_list"),
        crumb(request, project, "project_detail", uid=project.uid),
    ]
    return [*found, crumb(request, _("Money"), "project_money", uid=project.uid)] if inside else found


@require_GET
def project_money(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    project = access.project_for(actor, uid)
    money = selectors.project_money(actor, project)
    plans = access.visible_plans(actor).filter(project=project, mix_lines__isnull=False)
    pieces = panels.filled("money", actor, project)
    counted = any(
        piece["data"].get("rounds") for piece in pieces
    )  # what was counted says it better than a plan
    foresee = actor.may("plan.view") and not counted
    context = {
        "project": project, "money": money,
        "plans": list(plans.distinct().order_by("-version")) if actor.may("project.edit") else [],
        "foreseen": planned_cost_of_a_tree(project, money.table.planned_with_set_aside) if foresee else None,
        "panels": pieces, "counted": counted,
        "history": history_of(actor, [project.uid, *(line.uid for line in money.lines)]),
        "crumbs": money_crumbs(request, project, inside=False),
    }  # fmt: skip
    return render(request, "projects/project_money.html", context)


@require_http_methods(["GET", "POST"])
def project_contingency(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    project = access.project_for(actor, uid, "project.edit")
    form = SetAsideForm(posted(request), instance=project)
    if form.is_bound and attempt(form, services.set_aside, actor=actor, project=project):
        messages.success(request, _("Saved."))
        return to(request, "project_money", uid=uid)
    return form_page(
        request, form, title=_("Set money aside for the unforeseen"), submit=_("Save"),
        back=url(request, "project_money", uid=uid), crumbs=money_crumbs(request, project),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def plan_costs(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Draw the costs of a plan into the budget."""
    actor = request.actor
    plan = access.plan_for(actor, uid, "project.edit")
    project = plan.project
    form = PlanCostsForm(posted(request), initial={"currency": project.currency})
    taken = form.is_bound and attempt(form, costs.take_costs_in, actor=actor, plan=plan)
    if taken:
        _say(request, taken)
        return to(request, "project_money", uid=project.uid)
    rate = figures.quantity(plan.trees_per_person_day)
    intro = _(
        "One planned line is written for the plants and one for the planting of each block and season of this "
        "plan, at the prices in its mix and %(rate)s plants for each person and day. Lines drawn before for the "
        "same seasons are replaced; what was spent on them stays, and so does everything written by hand."
    ) % {"rate": rate}
    return form_page(
        request, form, title=_("Take the costs of %(plan)s in") % {"plan": plan}, submit=_("Take them in"),
        intro=intro, back=url(request, "project_money", uid=project.uid), crumbs=money_crumbs(request, project),
    )  # fmt: skip


def _say(request: HttpRequest, taken: costs.Taken) -> None:
    words = ngettext(
        "%(n)s line of the plan is in the budget.",
        "%(n)s lines of the plan are in the budget.",
        taken.n_lines,
    )
    messages.success(request, words % {"n": figures.quantity(taken.n_lines)})
    if taken.unpriced:
        names = ", ".join(sorted({line.species.scientific_name for line in taken.unpriced}))
        messages.warning(
            request, _("Left out, because the mix has no price for them: %(names)s.") % {"names": names}
        )
    if taken.emptied:
        words = _("No longer in the plan, kept for what was spent on them: %(lines)s.")
        messages.warning(request, words % {"lines": ", ".join(str(line) for line in taken.emptied)})

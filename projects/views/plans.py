"""Plans of a project: its versions, the way through one of them, beginning and changing a draft."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from projects import access
from projects.forms.plans import BeginPlanForm, PlanForm, told
from projects.models import Plan, Project
from projects.selectors import plans as selectors
from projects.selectors.plan_progress import step_rows
from projects.selectors.records import history_of
from projects.services import plans as services
from projects.views.saving import attempt, crumb, form_page, posted, to, url


def project_crumbs(request: HttpRequest, project: Project) -> list[dict[str, str]]:
    """The way to a project's plans."""
    return [crumb(request, project, "project_detail", uid=project.uid)]


def plan_crumbs(request: HttpRequest, plan: Plan) -> list[dict[str, str]]:
    """The way to a page below a plan."""
    return [
        *project_crumbs(request, plan.project),
        crumb(request, _("Plans"), "plan_list", uid=plan.project.uid),
        crumb(request, told(plan), "plan_detail", uid=plan.uid),
    ]


@require_GET
def plan_list(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    project = access.project_for(actor, uid)
    actor.require("plan.view")
    context = {
        "project": project,
        "plans": selectors.plan_rows(actor, project),
        "crumbs": project_crumbs(request, project),
    }
    return render(request, "projects/plan_list.html", context)


@require_http_methods(["GET", "POST"])
def plan_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    project = access.project_for(actor, uid)
    actor.require("plan.edit")
    form = BeginPlanForm(actor, project, posted(request))
    if form.is_bound and (plan := attempt(form, services.begin_plan, actor=actor, project=project)):
        messages.success(request, _("The draft is begun. Take the steps in any order."))
        return to(request, "plan_detail", uid=plan.uid)
    crumbs = [*project_crumbs(request, project), crumb(request, _("Plans"), "plan_list", uid=uid)]
    return form_page(
        request, form, title=_("Begin a plan of %(name)s") % {"name": project}, submit=_("Begin the draft"),
        back=url(request, "plan_list", uid=uid), crumbs=crumbs,
    )  # fmt: skip


@require_GET
def plan_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    plan = access.plan_for(actor, uid)
    frame = selectors.frame_of(actor, plan)
    context = {
        "plan": plan, "title": told(plan), "steps": step_rows(actor, frame),
        "others": [row for row in selectors.plan_rows(actor, plan.project) if row.pk != plan.pk],
        "history": history_of(actor, [plan.uid]), "crumbs": plan_crumbs(request, plan)[:-1],
    }  # fmt: skip
    return render(request, "projects/plan_detail.html", context)


@require_http_methods(["GET", "POST"])
def plan_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    plan = access.plan_for(actor, uid, "plan.edit")
    form = PlanForm(actor, posted(request), instance=plan)
    if form.is_bound and attempt(form, services.edit_plan, actor=actor, plan=plan):
        messages.success(request, _("Saved."))
        return to(request, "plan_detail", uid=uid)
    intro = (
        "" if plan.is_draft else _("This version is approved and never changes. Begin a new version from it.")
    )
    return form_page(
        request, form, title=_("Seasons and allowances"), submit=_("Save"), intro=intro,
        back=url(request, "plan_detail", uid=uid), crumbs=plan_crumbs(request, plan),
    )  # fmt: skip

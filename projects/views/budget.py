"""Lines of a project's budget: adding one, changing one."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from projects import access
from projects.forms.budget import BudgetLineForm
from projects.models import Project
from projects.services import budget as services
from projects.views.saving import attempt, crumb, form_page, posted, to, url


def _crumbs(request: HttpRequest, project: Project) -> list[dict[str, str]]:
    return [
        crumb(request, _("Projects"), "project_list"),
        crumb(request, project, "project_detail", uid=project.uid),
    ]


@require_http_methods(["GET", "POST"])
def budget_line_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    project = access.project_for(actor, uid, "project.edit")
    form = BudgetLineForm(actor, project, posted(request))
    if form.is_bound and attempt(form, services.add_line, actor=actor, project=project):
        messages.success(request, _("The line is in the budget."))
        return to(request, "project_detail", uid=uid)
    return form_page(
        request, form, title=_("Add money to %(name)s") % {"name": project}, submit=_("Add the line"),
        back=url(request, "project_detail", uid=uid), crumbs=_crumbs(request, project),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def budget_line_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    line = access.budget_line_for(actor, uid, "project.edit")
    project = line.project
    form = BudgetLineForm(actor, project, posted(request), instance=line)
    if form.is_bound and attempt(form, services.edit_line, actor=actor, line=line):
        messages.success(request, _("Saved."))
        return to(request, "project_detail", uid=project.uid)
    return form_page(
        request, form, title=_("Change %(name)s") % {"name": line}, submit=_("Save"),
        back=url(request, "project_detail", uid=project.uid), crumbs=_crumbs(request, project),
    )  # fmt: skip

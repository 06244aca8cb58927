"""Projects: the list, one project with its target, adding, changing, putting away."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access, panels
from projects.forms.places import ProjectForm
from projects.paging import page
from projects.selectors import places
from projects.selectors.records import history_of
from projects.services import projects as services
from projects.views.saving import attempt, crumb, form_page, posted, shelf, to, url


@require_GET
def project_list(request: HttpRequest) -> HttpResponse:
    actor = request.actor
    actor.require("project.view")
    away = "away" in request.GET
    found = page(access.visible_projects(actor).filter(archived_at__isnull=not away), request)
    rows = places.project_rows(actor, found)
    return render(request, "projects/project_list.html", {"page": found, "rows": rows, "away": away})


@require_GET
def project_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    project = access.project_for(actor, uid)
    lines = list(project.budget_lines.select_related("season", "block"))
    context = {
        "project": project,
        "blocks": places.project_blocks(actor, project),
        "budget_lines": lines,
        "panels": panels.filled("project", actor, project),
        "history": history_of(actor, [project.uid, *(line.uid for line in lines)]),
        "crumbs": [crumb(request, _("Projects"), "project_list")],
    }
    return render(request, "projects/project_detail.html", context)


@require_http_methods(["GET", "POST"])
def project_new(request: HttpRequest) -> HttpResponse:
    actor = request.actor
    actor.require("project.edit")
    form = ProjectForm(posted(request), initial={"currency": actor.organisation.currency})
    if form.is_bound and (project := attempt(form, services.make_project, actor=actor)):
        messages.success(request, _("The project is there. Next: give it blocks on a site."))
        return to(request, "project_detail", uid=project.uid)
    return form_page(
        request, form, title=_("Begin a project"), submit=_("Begin the project"), back=url(request, "project_list"),
        crumbs=[crumb(request, _("Projects"), "project_list")],
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def project_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    project = access.project_for(actor, uid, "project.edit")
    form = ProjectForm(posted(request), instance=project)
    if form.is_bound and attempt(form, services.edit_project, actor=actor, project=project):
        messages.success(request, _("Saved."))
        return to(request, "project_detail", uid=uid)
    crumbs = [
        crumb(request, _("Projects"), "project_list"),
        crumb(request, project, "project_detail", uid=uid),
    ]
    return form_page(
        request, form, title=_("Change %(name)s") % {"name": project}, submit=_("Save"),
        back=url(request, "project_detail", uid=uid), crumbs=crumbs,
    )  # fmt: skip


@require_POST
def project_archive(request: HttpRequest, uid: UUID) -> HttpResponse:
    project = access.project_for(request.actor, uid, "project.edit")
    words = (_("The project is put away; nothing of it is lost."), _("The project is back in use."))
    return shelf(
        request, services.archive_project, services.restore_project, words,
        page="project_detail", uid=uid, project=project,
    )  # fmt: skip

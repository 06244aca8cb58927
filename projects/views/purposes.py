"""What a project is for, weighed."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from projects import access
from projects.access import Actor
from projects.forms.purposes import WHY, PurposesForm
from projects.models import Project
from projects.selectors.purposes import purpose_weights
from projects.services import purposes as services
from projects.views.saving import attempt, crumb, form_page, posted, to, url


@require_http_methods(["GET", "POST"])
def project_purposes(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    project = access.project_for(actor, uid, "project.edit")
    form = PurposesForm(purpose_weights(project), posted(request))
    if form.is_bound and attempt(form, _weigh, actor=actor, project=project) is not None:
        messages.success(request, _("The purposes are weighed. Mixes found from now on follow them."))
        return to(request, "project_value", uid=uid)
    crumbs = [
        crumb(request, _("Projects"), "project_list"),
        crumb(request, project, "project_detail", uid=uid),
        crumb(request, _("What people gain"), "project_value", uid=uid),
    ]
    return form_page(
        request, form, title=_("What %(name)s is for") % {"name": project}, submit=_("Weigh them so"),
        intro=WHY, back=url(request, "project_value", uid=uid), crumbs=crumbs,
    )  # fmt: skip


def _weigh(*, actor: Actor, project: Project, **values: Any) -> dict[str, int]:
    return services.weigh_purposes(
        actor=actor, project=project, weights=values["weights"], version=values.get("version", "")
    )

"""Aftercare: adding a task to a block, saying that it was done, changing it."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from projects import access, clocks
from projects.forms.care import CareDoneForm, CareEditForm, CareTaskForm
from projects.models import Block
from projects.services import care as services
from projects.views.saving import attempt, crumb, form_page, posted, to, url


def _crumbs(request: HttpRequest, block: Block) -> list[dict[str, str]]:
    return [
        crumb(request, _("Sites"), "site_list"),
        crumb(request, block.site, "site_detail", uid=block.site.uid),
        crumb(request, block, "block_detail", uid=block.uid),
    ]


@require_http_methods(["GET", "POST"])
def care_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    block = access.block_for(actor, uid)
    actor.require("care.edit")
    form = CareTaskForm(posted(request))
    if form.is_bound and attempt(form, services.add_task, actor=actor, block=block):
        messages.success(request, _("The task is on the block's list, and on home when its time comes."))
        return to(request, "block_detail", uid=uid)
    return form_page(
        request, form, title=_("Add aftercare to %(name)s") % {"name": block}, submit=_("Add the task"),
        back=url(request, "block_detail", uid=uid), crumbs=_crumbs(request, block),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def care_done(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    task = access.care_task_for(actor, uid, "care.edit")
    today = clocks.today_of(actor.organisation)
    form = CareDoneForm(posted(request), instance=task, initial={"done_on": task.done_on or today})
    if form.is_bound and attempt(form, services.finish_task, actor=actor, task=task):
        messages.success(request, _("Noted as done."))
        return to(request, "block_detail", uid=task.block.uid)
    return form_page(
        request, form, title=_("Done: %(what)s") % {"what": task}, submit=_("It is done"),
        back=url(request, "block_detail", uid=task.block.uid), crumbs=_crumbs(request, task.block),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def care_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    task = access.care_task_for(actor, uid, "care.edit")
    form = CareEditForm(posted(request), instance=task)
    if form.is_bound and attempt(form, services.edit_task, actor=actor, task=task):
        messages.success(request, _("Saved."))
        return to(request, "block_detail", uid=task.block.uid)
    return form_page(
        request, form, title=_("Change: %(what)s") % {"what": task}, submit=_("Save"),
        back=url(request, "block_detail", uid=task.block.uid), crumbs=_crumbs(request, task.block),
    )  # fmt: skip

"""Aftercare: adding a task to a block, saying that it was done, changing it."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from projects import access, clocks
from projects.errors import Refusal
from projects.forms.care import CareDoneForm, CareEditForm, CareTaskForm
from projects.models import Block, CareTask
from projects.services import care as services
from projects.views.saving import attempt, crumb, form_page, posted, to, url


def care_crumbs(request: HttpRequest, block: Block | None = None) -> list[dict[str, str]]:
    """The way to a page about aftercare."""
    if block is None:
        return [crumb(request, _("Aftercare"), "care_list")]
    return [
        crumb(request, _("Sites"), "site_list"),
        crumb(request, block.site, "site_detail", uid=block.site.uid),
        crumb(request, block, "block_detail", uid=block.uid),
    ]


def task_crumbs(request: HttpRequest, task: CareTask) -> list[dict[str, str]]:
    """The way to a page below a task; who is given a task may not see the pages of its site."""
    return [*care_crumbs(request), crumb(request, _("The task"), "care_detail", uid=task.uid)]


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
        back=url(request, "block_detail", uid=uid), crumbs=care_crumbs(request, block),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def care_done(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    task = access.care_task_for(actor, uid, "care.do")
    services.may_do(actor, task)
    today = clocks.today_of(actor.organisation)
    files = request.FILES if request.method == "POST" else None
    form = CareDoneForm(
        actor, posted(request), files, instance=task, initial={"done_on": task.done_on or today}
    )
    if form.is_bound and attempt(form, services.finish_task, actor=actor, task=task):
        messages.success(request, _("Noted as done."))
        return to(request, "care_detail", uid=uid)
    return form_page(
        request, form, title=_("Done: %(what)s") % {"what": task}, submit=_("It is done"),
        back=url(request, "care_detail", uid=uid), crumbs=task_crumbs(request, task),
    )  # fmt: skip


@require_POST
def care_done_today(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Note a task as done today, in one tap; the same page opens it again."""
    actor = request.actor
    task = access.care_task_for(actor, uid, "care.do")
    try:
        services.finish_task(actor=actor, task=task, done_on=clocks.today_of(actor.organisation))
    except Refusal as refusal:
        messages.error(request, refusal.message)
    else:
        messages.success(request, _("Noted as done today: %(what)s") % {"what": task})
    if "mine" in request.POST:
        return to(request, "care_mine")
    return to(request, "care_detail", uid=uid)


@require_http_methods(["GET", "POST"])
def care_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    task = access.care_task_for(actor, uid, "care.edit")
    form = CareEditForm(posted(request), instance=task)
    if form.is_bound and attempt(form, services.edit_task, actor=actor, task=task):
        messages.success(request, _("Saved."))
        return to(request, "care_detail", uid=uid)
    return form_page(
        request, form, title=_("Change: %(what)s") % {"what": task}, submit=_("Save"),
        back=url(request, "care_detail", uid=uid), crumbs=task_crumbs(request, task),
    )  # fmt: skip

"""Aftercare of everything one sees: lists, one's own tasks, a task with who does it, put off, not needed."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access, clocks
from projects.forms.care import CareAssignForm, CareDropForm, CarePutOffForm
from projects.models import CareTask
from projects.selectors import care as selectors
from projects.selectors.papers import papers_of
from projects.selectors.records import history_of
from projects.services import care as services
from projects.views.care import care_crumbs, task_crumbs
from projects.views.saving import act, attempt, form_page, posted, to, url


@require_GET
def care_list(request: HttpRequest) -> HttpResponse:
    """Open tasks, one's own, late, done, not needed; of all or of one project, block and kind."""
    actor = request.actor
    actor.require("care.view")
    wanted = selectors.CareFilter.read(request.GET)
    today = clocks.today_of(actor.organisation)
    context = {
        "found": selectors.care_list(actor, wanted, today), "which": selectors.WHICH,
        "costs": selectors.care_costs(actor, wanted.project) if actor.may("care.edit") else [],
    }  # fmt: skip
    return render(request, "projects/care_list.html", context)


@require_GET
def care_mine(request: HttpRequest) -> HttpResponse:
    """What the reader has to do, for a phone: one tap says that it is done."""
    actor = request.actor
    actor.require("care.view")
    rows, done = selectors.my_tasks(actor, clocks.today_of(actor.organisation))
    context = {"rows": rows, "done": done, "crumbs": care_crumbs(request)}
    return render(request, "projects/care_mine.html", context)


@require_GET
def care_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    task = access.care_task_for(actor, uid)
    context = {
        "task": task,
        "row": selectors.care_row(actor, task, clocks.today_of(actor.organisation)),
        "sightings": list(task.sightings.select_related("walk__block")) if actor.may("walk.view") else [],
        "papers": papers_of(actor, [task]),
        "said": selectors.said_from_phone(task) if actor.may("care.edit") else "",
        "history": history_of(actor, [task.uid]),
        "crumbs": care_crumbs(request),
    }
    return render(request, "projects/care_detail.html", context)


@require_http_methods(["GET", "POST"])
def care_assign(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Say who sees to a task."""
    task = access.care_task_for(request.actor, uid, "care.edit")
    form = CareAssignForm(request.actor, posted(request), instance=task)
    title = _("Who sees to it: %(what)s") % {"what": task}
    return _settle(request, task, form, services.assign_task, title, _("Note it"), _("Noted."))


@require_http_methods(["GET", "POST"])
def care_put_off(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Give a task a later window."""
    task = access.care_task_for(request.actor, uid, "care.do")
    services.may_do(request.actor, task)
    form = CarePutOffForm(posted(request), instance=task)
    title = _("Put off: %(what)s") % {"what": task}
    done = _("Put off. Home tells of it when its new time comes.")
    return _settle(request, task, form, services.put_off, title, _("Put it off"), done)


@require_http_methods(["GET", "POST"])
def care_drop(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Say that a task is not needed."""
    task = access.care_task_for(request.actor, uid, "care.edit")
    form = CareDropForm(posted(request), instance=task)
    title = _("Not needed: %(what)s") % {"what": task}
    done = _("Left out of the lists. It can be taken up again.")
    return _settle(request, task, form, services.drop_task, title, _("It is not needed"), done)


def _settle(
    request: HttpRequest, task: CareTask, form: forms.Form, service: Callable[..., Any], title: str, submit: str,
    done: str,
) -> HttpResponse:  # fmt: skip
    if form.is_bound and attempt(form, service, actor=request.actor, task=task):
        messages.success(request, done)
        return to(request, "care_detail", uid=task.uid)
    return form_page(
        request, form, title=title, submit=submit, back=url(request, "care_detail", uid=task.uid),
        crumbs=task_crumbs(request, task),
    )  # fmt: skip


@require_POST
def care_reopen(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Open a task again that was said to be done, or not needed."""
    task = access.care_task_for(request.actor, uid, "care.do")
    service = services.take_up if task.dropped_at else services.undo_done
    if "mine" in request.POST:
        service(actor=request.actor, task=task)
        return to(request, "care_mine")
    return act(request, service, _("It is open again."), "care_detail", uid, task=task)

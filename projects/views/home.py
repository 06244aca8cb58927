"""What needs deciding, and by when."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from projects import access, panels
from projects.errors import Refusal
from projects.forms.telling import OwnerForm, SnoozeForm
from projects.selectors import crew_days
from projects.selectors import home as selectors
from projects.services import reminders
from projects.views.saving import to


@require_GET
def home(request: HttpRequest) -> HttpResponse:
    actor = request.actor
    actor.require("home.view")
    today = selectors.today_for(actor)
    items = selectors.to_decide(actor, today)
    only_mine = "mine" in request.GET
    shown = [item for item in items if item.mine] if only_mine else items
    return render(
        request,
        "projects/home.html",
        {
            "today": today,
            "items": items,
            "groups": selectors.grouped(shown),
            "only_mine": only_mine,
            "n_mine": sum(item.mine for item in items),
            "days": crew_days.days_ahead(actor, None, 3) if actor.may("day_rule.view") else [],
            "strips": selectors.site_strips(actor),
            "first_step": selectors.first_step(actor),
            "may_snooze": actor.may("reminder.snooze"),
            "panels": panels.filled("home", actor, actor.organisation),
        },
    )


@require_POST
def reminder_snooze(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Leave one reminder out of the list until a day."""
    reminder = access.get_or_404(access.visible_reminders(request.actor), uid=uid)
    request.actor.require("reminder.snooze")
    done = _("Put off. It comes back on that day if it still stands.")
    return _decided(request, SnoozeForm(request.POST), reminders.snooze, done, reminder=reminder)


@require_POST
def reminder_assign(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Say who sees to one reminder."""
    reminder = access.get_or_404(access.visible_reminders(request.actor), uid=uid)
    request.actor.require("reminder.assign")
    form = OwnerForm(request.actor, request.POST)
    return _decided(request, form, reminders.assign, _("Noted who sees to it."), reminder=reminder)


def _decided(
    request: HttpRequest, form: SnoozeForm | OwnerForm, service: Callable[..., Any], done: str, **fixed: Any
) -> HttpResponse:
    """Run a small form of the list and return to the list, filtered as it was."""
    try:
        if form.is_valid():
            service(actor=request.actor, **fixed, **form.cleaned_data)
            messages.success(request, done)
        else:
            messages.error(request, form.first_problem())
    except Refusal as refusal:
        messages.error(request, refusal.message)
    answer = to(request, "home")
    if "mine" in request.POST:
        answer["Location"] += "?mine"
    return answer

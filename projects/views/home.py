"""What needs deciding, and by when."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from projects import access, panels
from projects.errors import Refusal
from projects.forms.people import SnoozeForm
from projects.selectors import home as selectors
from projects.services import reminders
from projects.views.saving import to


@require_GET
def home(request: HttpRequest) -> HttpResponse:
    actor = request.actor
    actor.require("home.view")
    today = selectors.today_for(actor)
    return render(
        request,
        "projects/home.html",
        {
            "today": today,
            "items": selectors.to_decide(actor, today),
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
    form = SnoozeForm(request.POST)
    try:
        if form.is_valid():
            reminders.snooze(actor=request.actor, reminder=reminder, **form.cleaned_data)
            messages.success(request, _("Put off. It comes back on that day if it still stands."))
        else:
            messages.error(request, form.first_problem())
    except Refusal as refusal:
        messages.error(request, refusal.message)
    return to(request, "home")

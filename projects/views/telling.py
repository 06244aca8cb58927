"""How a member is told: the weekly letter, calendar addresses, and the rules by which things come and go."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from projects import access
from projects.forms.telling import CalendarForm, LetterForm
from projects.selectors import telling as selectors
from projects.services import calendar_feeds, weekly_letter
from projects.views.saving import attempt, posted, to


@require_GET
def telling(request: HttpRequest) -> HttpResponse:
    request.actor.require("letter.choose")
    return _drawn(request, CalendarForm())


def _drawn(request: HttpRequest, form: CalendarForm, address: str = "") -> HttpResponse:
    actor = request.actor
    letter = LetterForm(initial={"wanted": actor.membership and weekly_letter.is_wanted(actor.membership)})
    page = selectors.page_for(actor) | {"form": form, "letter": letter, "address": address}
    return render(request, "projects/telling.html", page, status=422 if form.errors else 200)


@require_POST
def letter_choose(request: HttpRequest) -> HttpResponse:
    """Have the weekly letter, or have it no more."""
    form = LetterForm(request.POST)
    row = attempt(form, weekly_letter.choose, actor=request.actor)
    if row is not None:
        done = _("The letter comes on Mondays.") if row.wanted else _("No letter comes any more.")
        messages.success(request, done)
    return to(request, "telling")


@require_POST
def calendar_feed_new(request: HttpRequest) -> HttpResponse:
    """Make an address and show it, which nobody can look up again; so the answer is no redirect."""
    request.actor.require("letter.choose")
    form = CalendarForm(posted(request))
    made = attempt(form, calendar_feeds.make, actor=request.actor)
    if made is None:
        return _drawn(request, form)
    address = request.build_absolute_uri(reverse("by_secret:calendar", kwargs={"token": made.token}))
    return _drawn(request, CalendarForm(), address)


@require_POST
def calendar_feed_revoke(request: HttpRequest, uid: UUID) -> HttpResponse:
    feed = access.calendar_feed_for(request.actor, uid, "letter.choose")
    calendar_feeds.revoke(actor=request.actor, feed=feed)
    messages.success(request, _("The address is withdrawn; it opens nothing any more."))
    return to(request, "telling")

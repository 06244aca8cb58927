"""What a secret address opens without a sign-in: a member's calendar, and the way out of the weekly letter.

No session is opened and no cookie read or set; wrong, withdrawn and outlived secrets answer alike.
"""

import hashlib
from typing import Any

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.utils import timezone, translation
from django.utils.cache import get_conditional_response
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_safe
from rest_framework.throttling import BaseThrottle

from projects import clocks
from projects.access import member_actor
from projects.documents.calendar_file import calendar_file
from projects.models import CalendarFeed
from projects.selectors.calendar_entries import entries_for
from projects.services import calendar_feeds, weekly_letter

# A secret address stays out of search engines and other sites' logs.
SECRET = {"Referrer-Policy": "no-referrer", "X-Robots-Tag": "noindex, nofollow, noarchive"}
MOST_WRONG, WINDOW_SECONDS = 60, 600  # from one address; a secret has 256 bits, this only spares the machine


@require_safe
def calendar(request: HttpRequest, token: str) -> HttpResponse:
    """A member's calendar, as their calendar program reads it."""
    key = f"wrong-secrets:{BaseThrottle().get_ident(request)}"
    if cache.get(key, 0) >= MOST_WRONG:
        return _page("projects/secret_closed.html", {}, status=429)
    feed = calendar_feeds.opened(token)
    if feed is None:
        cache.add(key, 0, WINDOW_SECONDS)
        _count(key)
        return _page("projects/secret_closed.html", {}, status=404)
    text = _written(feed, settings.PUBLIC_ADDRESS or request.build_absolute_uri("/").rstrip("/"))
    tag = f'"{hashlib.sha256(text).hexdigest()[:32]}"'
    answer = HttpResponse(text, content_type="text/calendar; charset=utf-8")
    answer.headers["ETag"] = tag
    answer.headers["Cache-Control"] = "private, no-cache"
    return _with_headers(get_conditional_response(request, etag=tag, response=answer) or answer)


def _count(key: str) -> None:
    try:
        cache.incr(key)
    except ValueError:  # the window ended between two lines
        cache.add(key, 1, WINDOW_SECONDS)


def _written(feed: CalendarFeed, base: str) -> bytes:
    member = feed.membership
    organisation = member.organisation
    today = clocks.today_of(organisation)
    stamp = timezone.datetime(today.year, today.month, today.day, tzinfo=timezone.get_default_timezone())
    with translation.override(member.user.language or organisation.language):
        name = _("%(organisation)s: what is due") % {"organisation": organisation.name}
        entries = entries_for(member_actor(member), today, only_mine=feed.only_mine)
        return calendar_file(name, entries, base=base.rstrip("/"), stamp=stamp)


@csrf_exempt  # a mail program presses this with no page of ours before it (RFC 8058); the signed word is the proof
@require_http_methods(["GET", "HEAD", "POST"])
def letter_stop(request: HttpRequest, token: str) -> HttpResponse:
    """The way out of the weekly letter: looking shows a button, and only pressing it stops anything."""
    member = weekly_letter.stopped_by(token)
    if member is None:
        return _page("projects/secret_closed.html", {}, status=404)
    if request.method == "POST":
        weekly_letter.stop(member)
    with translation.override(member.user.language or member.organisation.language):
        is_stopped = not weekly_letter.is_wanted(member)
        return _page("projects/letter_stop.html", {"of": member.organisation, "is_stopped": is_stopped})


def _page(template: str, context: dict[str, Any], status: int = 200) -> HttpResponse:
    """Draw without the request, so that no session is opened and nobody's name can appear."""
    answer = HttpResponse(render_to_string(template, context), status=status)
    answer.headers["Cache-Control"] = "private, no-store"
    return _with_headers(answer)


def _with_headers(answer: HttpResponse) -> HttpResponse:
    for name, value in SECRET.items():
        answer.headers[name] = value
    return answer

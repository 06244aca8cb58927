"""Share links: made and withdrawn by members, opened by anybody who holds the secret."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from monitoring import access
from monitoring.forms.summaries import ShareForm
from monitoring.models import SeasonSummary
from monitoring.selectors.summaries import Edition
from monitoring.services import sharing
from monitoring.views import charts, summaries
from projects.views.saving import attempt, posted, to

# A secret address stays out of search engines, of other sites' logs, and of shared caches.
SECRET = {
    "Cache-Control": "private, no-store",
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex, nofollow, noarchive",
}


@require_POST
def summary_share(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Make a link and show its address, which nobody can look up again; so the answer is no redirect."""
    summary = access.summary_for(request.actor, uid, "summary.share")
    form = ShareForm(posted(request))
    made = attempt(form, sharing.share, actor=request.actor, summary=summary)
    if made is None:
        return summaries.drawn(request, summary, form)
    address = request.build_absolute_uri(reverse("share:open", kwargs={"token": made.token}))
    return summaries.drawn(request, summary, address=address)


@require_POST
def link_revoke(request: HttpRequest, uid: UUID) -> HttpResponse:
    link = access.link_for(request.actor, uid)
    sharing.revoke(actor=request.actor, link=link)
    messages.success(request, _("The link is withdrawn; it opens nothing any more."))
    return to(request, "monitoring:summary_detail", uid=link.target_uid)


@require_safe
def opened(request: HttpRequest, token: str) -> HttpResponse:
    """One edition for whoever holds its link. Nobody is signed in and no cookie is read or set."""
    summary = sharing.opened(token) if request.method == "GET" else sharing.looked_at(token)
    if summary is None:
        return closed()
    chart_url = reverse("share:chart", kwargs={"token": token, "kind": "KIND"})
    return page("monitoring/share_open.html", public(summary) | {"chart_url": chart_url})


@require_safe
def opened_chart(request: HttpRequest, token: str, kind: str) -> HttpResponse:
    """A picture of the page a link opens."""
    summary = sharing.looked_at(token)
    picture = charts.summary_picture(summary, kind) if summary else None
    if picture is None:
        return closed()
    return with_headers(charts.svg(picture))


def public(summary: SeasonSummary) -> dict[str, Any]:
    """What the page may know: frozen rows and names, no member, no position."""
    organisation = summary.organisation
    return {
        "edition": Edition(summary),
        "summary": summary,
        "organisation": organisation,
        "is_demo": organisation.is_demo,
        "units": organisation.units,
    }


def closed() -> HttpResponse:
    """The same answer for a wrong, an expired and a withdrawn link."""
    return page("monitoring/share_closed.html", {}, status=404)


def page(template: str, context: dict[str, Any], status: int = 200) -> HttpResponse:
    """Draw without the request, so that no session is opened and nobody's name can appear."""
    return with_headers(HttpResponse(render_to_string(template, context), status=status))


def with_headers(response: HttpResponse) -> HttpResponse:
    for name, value in SECRET.items():
        response.headers[name] = value
    return response

"""Season summaries: the list, making one, reading one."""

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from monitoring import access
from monitoring.forms.summaries import ShareForm, SummaryForm
from monitoring.models import SeasonSummary
from monitoring.selectors import summaries
from monitoring.services.summaries import make_summary
from projects.paging import page
from projects.views.saving import attempt, crumb, form_page, posted, to, url


@require_GET
def summary_list(request: HttpRequest) -> HttpResponse:
    request.actor.require("summary.view")
    rows = summaries.summary_rows(request.actor)
    found = page(rows, request, key=("-season__starts_on", "project__name", "-edition", "-id"))
    editions = [summaries.Edition(row) for row in found.rows]
    return render(request, "monitoring/summary_list.html", {"found": found, "editions": editions})


@require_http_methods(["GET", "POST"])
def summary_make(request: HttpRequest) -> HttpResponse:
    request.actor.require("summary.make")
    form = SummaryForm(posted(request), actor=request.actor)
    if request.method == "POST" and (made := attempt(form, make_summary, actor=request.actor)):
        return to(request, "monitoring:summary_detail", uid=made.uid)
    return form_page(
        request,
        form,
        title=_("Make a season summary"),
        submit=_("Make the summary"),
        back=url(request, "monitoring:summary_list"),
        intro=_(
            "The figures are copied as they stand now and never change afterwards. Later counts make a new edition,"
            " which says what changed."
        ),
        crumbs=[crumb(request, _("Summaries"), "monitoring:summary_list")],
    )


@require_GET
def summary_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    return drawn(request, access.summary_for(request.actor, uid))


def drawn(
    request: HttpRequest, summary: SeasonSummary, form: ShareForm | None = None, address: str = ""
) -> HttpResponse:
    """The page of an edition; who may share it also sees its links, and a new link's address this once."""
    may_share = request.actor.may("summary.share")
    context = {
        "edition": summaries.Edition(summary),
        "summary": summary,
        "editions": summaries.editions_of(summary),
        "links": summaries.links_of(request.actor, summary) if may_share else [],
        "form": (form or ShareForm()) if may_share else None,
        "address": address,
        "now": timezone.now(),
        "chart_url": url(request, "monitoring:summary_chart", uid=summary.uid, kind="KIND"),
        "crumbs": [crumb(request, _("Summaries"), "monitoring:summary_list")],
    }
    status = 422 if form is not None and form.errors else 200
    return render(request, "monitoring/summary_detail.html", context, status=status)

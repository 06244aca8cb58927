"""Quick entry of a paper sheet, and the sheets to print, in the same order."""

from uuid import UUID

import segno
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from monitoring import access
from monitoring.forms.desk import Sheet
from monitoring.models import PlotBaseline, RoundPlot, SurveyRound, SurvivalPlot, Visit
from monitoring.selectors import sheets
from monitoring.services import entries
from projects.paging import page
from projects.views.saving import crumb, posted, to, url


@require_http_methods(["GET", "POST"])
def desk_entry(request: HttpRequest, round: UUID, uid: UUID) -> HttpResponse:
    """Enter or correct the sheet of one plot; then go on with the next plot of the round."""
    survey_round = access.round_for(request.actor, round, "visit.add")
    plot = access.plot_for(request.actor, uid, "visit.add")
    if not RoundPlot.objects.filter(round=survey_round, plot=plot).exists():
        raise Http404(_("This plot is not part of the round."))
    head = Visit.objects.filter(round=survey_round, plot=plot, is_counting=True).first()
    baselines = list(
        PlotBaseline.objects.filter(plot=plot, is_current=True).select_related("species", "cohort")
    )
    sheet = Sheet(posted(request), plot=plot, baselines=baselines, head=head)
    if request.method == "POST" and sheet.is_valid() and entered(request, sheet, plot, survey_round, head):
        return after_entry(request, survey_round, plot)
    context = {
        "sheet": sheet,
        "plot": plot,
        "round": survey_round,
        "head": head,
        "crumbs": [crumb(request, survey_round.name, "monitoring:round_detail", uid=survey_round.uid)],
    }
    return render(request, "monitoring/desk_entry.html", context, status=422 if sheet.has_errors else 200)


def entered(
    request: HttpRequest, sheet: Sheet, plot: SurvivalPlot, survey_round: SurveyRound, head: Visit | None
) -> bool:
    """Store the sheet; put what was refused onto its fields."""
    entry = entries.visit_record(plot=plot, survey_round=survey_round, head=head, **sheet.record())
    try:
        entries.enter(actor=request.actor, entry=entry)
    except entries.EntryRefused as refused:
        for fault in refused.faults:
            sheet.blame(fault.pointer, fault.detail)
        return False
    return True


def after_entry(request: HttpRequest, survey_round: SurveyRound, plot: SurvivalPlot) -> HttpResponse:
    """Go to the next plot that was not visited yet, else back to the round."""
    following = sheets.next_unvisited(survey_round, plot)
    messages.success(request, _("Plot %(name)s is in.") % {"name": plot.name})
    if following is None:
        return to(request, "monitoring:round_detail", uid=survey_round.uid)
    return to(request, "monitoring:desk_entry", round=survey_round.uid, uid=following.uid)


@require_GET
def sheet_print(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Lay out paper sheets, sixty at a time, for the plots not visited yet, or for all with ?all=1."""
    survey_round = access.round_for(request.actor, uid, "visit.add")
    everything = request.GET.get("all") == "1"
    found = page(sheets.wanted(survey_round, everything=everything), request, sheets.IN_ORDER, size=60)
    papers = sheets.sheets_of(found.rows)
    for paper in papers:
        path = url(request, "monitoring:desk_entry", round=survey_round.uid, uid=paper.plot.uid)
        address = request.build_absolute_uri(path)
        paper.qr = segno.make(address, error="l").svg_data_uri(dark="#1d2b4a", scale=2)
    context = {"round": survey_round, "papers": papers, "found": found, "everything": everything}
    return render(request, "monitoring/sheet_print.html", context)

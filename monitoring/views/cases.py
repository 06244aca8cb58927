"""Doubts to settle: the list, and one case with what was seen and the ways to decide."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from monitoring import access
from monitoring.forms.rounds import CaseForm
from monitoring.models import CaseKind
from monitoring.selectors import cases as selectors
from monitoring.services import cases
from projects.models import Decision
from projects.paging import page
from projects.views.saving import attempt, crumb, posted, to


@require_GET
def case_list(request: HttpRequest) -> HttpResponse:
    """Open cases; ?settled=1 shows the settled ones, ?round= one round's, ?kind= one kind."""
    request.actor.require("case.view")
    rows = access.visible_cases(request.actor).select_related("plot__block", "round")
    settled = request.GET.get("settled") == "1"
    rows = rows.filter(settled_seq__isnull=not settled)
    chosen = (
        access.visible_rounds(request.actor).filter(uid=uid_or_none(request.GET.get("round", ""))).first()
    )
    if chosen:
        rows = rows.filter(round=chosen)
    kind = request.GET.get("kind", "")
    if kind in CaseKind.values:
        rows = rows.filter(kind=kind)
    found = page(rows, request, key=("id",))
    context = {
        "found": found,
        "settled": settled,
        "round": chosen,
        "kind": CaseKind(kind).label if kind in CaseKind.values else "",
        "crumbs": [crumb(request, _("Rounds"), "monitoring:round_list")],
    }
    return render(request, "monitoring/case_list.html", context)


@require_http_methods(["GET", "POST"])
def case_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    case = access.case_for(request.actor, uid)
    form = CaseForm(posted(request), case=case)
    if request.method == "POST" and attempt(form, cases.settle_case, actor=request.actor, case=case):
        messages.success(request, _("Settled. The figures are computed again."))
        return to(request, "monitoring:case_list")
    visits = selectors.visits_of_case(case)
    context = {
        "case": case,
        "form": form,
        "visits": visits,
        "earlier": selectors.contradicted_visit(case, visits),
        "ranges": selectors.ranges_of_case(case),
        "distance": abs(case.facts.get("deviations", 0)),
        "decisions": Decision.objects.filter(organisation=case.organisation, subject_uid=case.uid)
        .select_related("decided_by")
        .order_by("-seq"),
        "crumbs": [crumb(request, _("To settle"), "monitoring:case_list")],
    }
    return render(request, "monitoring/case_detail.html", context, status=422 if form.errors else 200)


def uid_or_none(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None

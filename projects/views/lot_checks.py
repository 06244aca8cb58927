"""A look at a lot where it changes hands: what the readings suggest, and what the person decides."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from projects import access, handover_words
from projects.calc.handover_verdict import Suggestion
from projects.errors import Refusal
from projects.forms.lot_checks import LotCheckForm
from projects.models import CheckVerdict, LotCheck, StockLot
from projects.selectors import handovers
from projects.services import lot_checks
from projects.views.saving import act, attempt, crumb, posted, refuse, to


@require_http_methods(["GET", "POST"])
def lot_check(request: HttpRequest, uid: UUID) -> HttpResponse:
    """“See what the readings suggest” draws the form again with a suggestion; saving keeps the check."""
    lot = access.lot_for(request.actor, uid, "lot.edit")
    files = request.FILES if request.method == "POST" else None
    form = LotCheckForm(lot, posted(request), files)
    suggested: Suggestion | None = None
    if form.is_bound and "look" in request.POST:
        suggested = _suggestion(lot, form) if form.is_readable() else None
    elif form.is_bound and (check := attempt(form, lot_checks.add_check, actor=request.actor, lot=lot)):
        _say(request, check)
        return to(request, "lot_detail", uid=uid)
    context = {
        "lot": lot, "form": form, "plan": handovers.plan_for(lot), "plan_words": handover_words.points_words(),
        "verdict": CheckVerdict(suggested.verdict).label if suggested and suggested.verdict else "",
        "looked": suggested is not None,
        "reasons": [handover_words.reason_words(one) for one in suggested.reasons] if suggested else [],
        "crumbs": [crumb(request, _("Stock"), "stock"), crumb(request, lot, "lot_detail", uid=uid)],
    }  # fmt: skip
    return render(request, "projects/lot_check.html", context, status=422 if form.errors else 200)


def _suggestion(lot: StockLot, form: LotCheckForm) -> Suggestion | None:
    names = {field.name for field in LotCheck._meta.concrete_fields}
    seen = {name: value for name, value in form.cleaned_data.items() if name in names}
    row = LotCheck(lot=lot, **seen)
    try:
        lot_checks.check_readings(row)
    except Refusal as refusal:
        refuse(form, refusal)
        return None
    return handovers.suggestion_for(lot, handovers.readings_of(row))


def _say(request: HttpRequest, check: LotCheck) -> None:
    if check.verdict == CheckVerdict.ACCEPT:
        messages.success(request, _("Kept. The lot is accepted."))
    elif check.verdict == CheckVerdict.HOLD:
        messages.warning(request, _("Kept. The lot is on hold: check it again before it is planted."))
    else:
        messages.warning(request, _("Kept. The lot is rejected: say below what becomes of its plants."))


@require_POST
def lot_check_void(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Take a check back."""
    check = access.lot_check_for(request.actor, uid, "lot.edit")
    done = _("Taken back. It stays on the page, struck out.")
    reason = request.POST.get("reason", "")
    return act(request, lot_checks.void_check, done, "lot_detail", check.lot.uid, check=check, reason=reason)

"""The course of a planting day: the sheet for the crew, the morning's answer, the evening, and taking it back."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access, figures
from projects.errors import Refusal
from projects.forms.crew_days import EveningForm, LoadsForm
from projects.forms.day_rules import ReadingsForm
from projects.forms.people import ReasonForm
from projects.models import CrewDay
from projects.selectors import crew_days as selectors
from projects.selectors import crew_sheet as sheets
from projects.selectors import day_rules
from projects.selectors.crew_day_warnings import warnings_of
from projects.services import crew_day_closing as closing
from projects.services import crew_days as services
from projects.views.crew_days import below_day
from projects.views.saving import act, attempt, posted, refuse, to


@require_GET
def crew_day_sheet(request: HttpRequest, uid: UUID) -> HttpResponse:
    """The sheet a crew takes along; whoever may read the rules of a day may read it."""
    actor = request.actor
    day = access.crew_day_for(actor, uid, "day_rule.view")
    lots = selectors.lots_of(day)
    form = LoadsForm(sheets.kinds_of(lots), request.GET or None)
    context = {
        "day": day, "sheet": sheets.sheet_of(day, lots, form.sizes()), "form": form,
        "rules": day_rules.in_force(actor.organisation, day.block.project),
        "crumbs": below_day(request, day) if actor.may("planting.view") else [],
    }  # fmt: skip
    return render(request, "projects/crew_day_sheet.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def crew_day_decide(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Go, or not: what was read this morning against the rules, and what else speaks against the day."""
    actor = request.actor
    day = access.crew_day_for(actor, uid, "planting.edit")
    units = actor.organisation.units
    rules = day_rules.in_force(actor.organisation, day.block.project)
    form = ReadingsForm(rules.rules, units, posted(request))
    why = ReasonForm(posted(request))
    why.fields["reason"].label = _("Because")
    why.fields["reason"].required = False
    asked = form.is_bound and form.is_valid() and "judge" not in request.POST
    if asked and _decided(request, day, form, why):
        return to(request, "crew_day_detail", uid=uid)
    lots, people = selectors.lots_of(day), selectors.going(day)
    context = {
        "day": day, "form": form, "why": why, "found": rules, "warnings": warnings_of(day, lots, people),
        "judged": day_rules.judged(rules, form.readings(), units) if form.is_bound else None,
        "crumbs": below_day(request, day),
    }  # fmt: skip
    wrong = bool(form.errors or (why.is_bound and why.errors))
    return render(request, "projects/crew_day_decide.html", context, status=422 if wrong else 200)


def _decided(request: HttpRequest, day: CrewDay, form: ReadingsForm, why: ReasonForm) -> bool:
    """Keep the answer; a refusal goes beside the reason, where there is one to give."""
    go = "go" in request.POST
    try:
        services.decide(
            actor=request.actor,
            crew_day=day,
            go=go,
            readings=form.readings(),
            because=why.data.get("reason", ""),
        )
    except Refusal as refusal:
        if refusal.field == "because":
            why.add_error("reason", refusal.message)
        else:
            refuse(form, refusal)
        return False
    messages.success(
        request,
        _("The day goes ahead. Look again when the weather turns.") if go else _("Not today. It is kept."),
    )
    return True


@require_POST
def crew_day_off(request: HttpRequest, uid: UUID) -> HttpResponse:
    day = access.crew_day_for(request.actor, uid, "planting.edit")
    reason = ReasonForm(request.POST).data.get("reason", "")
    return act(
        request,
        services.call_off,
        _("The day is called off."),
        "crew_day_detail",
        uid,
        crew_day=day,
        reason=reason,
    )


@require_POST
def crew_day_reopen(request: HttpRequest, uid: UUID) -> HttpResponse:
    day = access.crew_day_for(request.actor, uid, "planting.edit")
    reason = ReasonForm(request.POST).data.get("reason", "")
    done = _(
        "The day is open again. What its closing entered is taken back, struck out, and no longer counts."
    )
    return act(request, closing.open_again, done, "crew_day_detail", uid, crew_day=day, reason=reason)


@require_http_methods(["GET", "POST"])
def crew_day_close(request: HttpRequest, uid: UUID) -> HttpResponse:
    """The evening: what became of every lot, all at once."""
    actor = request.actor
    day = access.crew_day_for(actor, uid, "planting.edit")
    if day.state not in selectors.OPEN:
        messages.info(request, _("This day is closed already; nothing was entered twice."))
        return to(request, "crew_day_detail", uid=uid)
    rows = list(day.lots.select_related("lot__species", "replaces"))
    begun = {**closing.said_before(day), "clean_tools": bool(day.clean_tools)}
    form = EveningForm(actor, rows, selectors.going(day), posted(request), initial=begun)
    if form.is_bound and attempt(form, closing.close_day, actor=actor, crew_day=day):
        _say(request, day)
        return to(request, "crew_day_detail", uid=uid)
    context = {"day": day, "form": form, "crumbs": below_day(request, day)}
    return render(request, "projects/crew_day_close.html", context, status=422 if form.errors else 200)


def _say(request: HttpRequest, day: CrewDay) -> None:
    """Say that the day is closed, and what its lots' ledgers or the people have to say about it."""
    messages.success(
        request, _("The day is closed: what was planted and what became of each lot is entered.")
    )
    for on in selectors.lots_of(day):
        if on.gap < 0:
            words = _(
                "%(number)s more have left lot %(lot)s than it received. Check the numbers; its ledger shows the gap."
            )
            messages.warning(request, words % {"number": figures.quantity(-on.gap), "lot": on.row.lot})
        if on.row.replaces_id is not None and on.planted:
            words = _("%(lot)s replaces losses: count its marked trees into their plots soon.")
            messages.info(request, words % {"lot": on.row.lot})
    if day.people.filter(back_at__isnull=True).exists():
        messages.warning(
            request, _("Nobody wrote down when some of the crew were back. Make sure that all are.")
        )

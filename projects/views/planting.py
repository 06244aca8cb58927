"""Planting days and cohorts."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access, clocks, figures, panels
from projects.forms.people import ReasonForm
from projects.forms.stock import PlantingDayForm
from projects.models import PlantingDay
from projects.selectors import places
from projects.selectors import stock as selectors
from projects.selectors.ledgers import ledger_of
from projects.selectors.records import history_of
from projects.services import planting as services
from projects.views.saving import act, attempt, crumb, form_page, posted, to, url
from projects.waiting_words import source_of


@require_http_methods(["GET", "POST"])
def planting_day_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    block = access.block_for(actor, uid)
    actor.require("planting.edit")
    initial = {"planted_on": clocks.today_at(block.site), "lot": request.GET.get("lot")}
    form = PlantingDayForm(actor, block, posted(request), initial=initial)
    if form.is_bound and (day := attempt(form, services.plant, actor=actor, block=block)):
        _say(request, day)
        return to(request, "planting_day_detail", uid=day.uid)
    return form_page(
        request, form, title=_("Record a planting day in %(block)s") % {"block": block}, submit=_("Record the day"),
        back=url(request, "block_detail", uid=uid), crumbs=_crumbs(request, block),
        intro=_("One crew, one lot, one day. Several lots on one day are several records."),
    )  # fmt: skip


def _crumbs(request: HttpRequest, block: access.models.Block) -> list[dict[str, str]]:
    return [
        crumb(request, _("Sites"), "site_list"),
        crumb(request, block.site, "site_detail", uid=block.site.uid),
        crumb(request, block, "block_detail", uid=block.uid),
    ]


def _say(request: HttpRequest, day: PlantingDay) -> None:
    """Say that the day is kept, and what its lot's ledger or clock has to say about it."""
    messages.success(request, _("The planting day is recorded."))
    if day.cohort.replaces is not None:
        words = _(
            "It counts as a replacement of %(other)s. Mark the new trees and count them into their plots soon."
        )
        messages.info(request, words % {"other": day.cohort.replaces})
    if day.lot is None:
        return
    gap = ledger_of(day.lot).gap
    if gap < 0:
        words = _(
            "%(number)s more have left lot %(lot)s than it received. Check the numbers; the gap stays in its ledger."
        )
        messages.warning(request, words % {"number": figures.quantity(-gap), "lot": day.lot})
    clock = selectors.clock_when_planted(day)
    if clock is not None and clock.is_over:
        words = _("The plants had been out of store for %(days)s days; they can wait %(limit)s (%(source)s).")
        told = {"days": clock.days_out, "limit": clock.limit_days, "source": source_of(day.lot.stock_type)}
        messages.warning(request, words % told)


@require_GET
def planting_day_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    day = access.planting_day_for(request.actor, uid)
    context = {
        "day": day,
        "clock": selectors.clock_when_planted(day),
        "limit_source": source_of(day.lot.stock_type) if day.lot else "",
        "panels": panels.filled("planting_day", request.actor, day),
        "history": history_of(request.actor, [day.uid]),
        "crumbs": _crumbs(request, day.block),
    }
    return render(request, "projects/planting_day_detail.html", context)


@require_POST
def planting_day_void(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Take a planting day back."""
    day = access.planting_day_for(request.actor, uid, "planting.edit")
    reason = ReasonForm(request.POST).data.get("reason", "")
    done = _("Taken back. It stays on the page, struck out, and no longer counts.")
    return act(request, services.void_planting_day, done, "planting_day_detail", uid, day=day, reason=reason)


@require_GET
def cohort_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    cohort = access.cohort_for(actor, uid)
    days = list(selectors.cohort_days(cohort))
    context = {
        "cohort": cohort,
        "days": days,
        "planted": sum(day.quantity for day in days if day.voided_at is None),
        "replacements": places.with_planted(cohort.replacements.select_related("season", "species")),
        "panels": panels.filled("cohort", actor, cohort),
        "history": history_of(actor, [cohort.uid, *(day.uid for day in days)]),
        "crumbs": _crumbs(request, cohort.block),
    }
    return render(request, "projects/cohort_detail.html", context)

"""Planting days: the list, one day as it is prepared, who goes and with which lots."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access, clocks, panels
from projects.errors import Refusal
from projects.forms.crew_days import CrewDayForm, CrewDayLotForm, CrewForm
from projects.models import Block, CrewDay, CrewDayLot
from projects.paging import page
from projects.selectors import crew_days as selectors
from projects.selectors import planting_quality
from projects.selectors.crew_day_warnings import warnings_of
from projects.selectors.records import history_of
from projects.services import crew_day_lots
from projects.services import crew_days as services
from projects.views.saving import attempt, crumb, form_page, posted, to, url


def block_crumbs(request: HttpRequest, block: Block) -> list[dict[str, str]]:
    """The way to a page about a block."""
    return [
        crumb(request, _("Sites"), "site_list"),
        crumb(request, block.site, "site_detail", uid=block.site.uid),
        crumb(request, block, "block_detail", uid=block.uid),
    ]


def day_crumbs(request: HttpRequest, day: CrewDay) -> list[dict[str, str]]:
    """The way to a page about a planting day."""
    days = crumb(request, _("Planting days"), "crew_day_list")
    return [days, crumb(request, day.block, "block_detail", uid=day.block.uid)]


def below_day(request: HttpRequest, day: CrewDay) -> list[dict[str, str]]:
    return [*day_crumbs(request, day), crumb(request, _("The day"), "crew_day_detail", uid=day.uid)]


@require_GET
def crew_day_list(request: HttpRequest) -> HttpResponse:
    actor = request.actor
    actor.require("planting.view")
    days = access.visible_crew_days(actor)
    context = {
        "found": selectors.open_days(days, clocks.today_of(actor.organisation)),
        "over": page(selectors.over_days(days), request, ("-day", "-id")),
        "blocks": access.visible_blocks(actor).filter(archived_at__isnull=True).select_related("site")[:200],
        "crumbs": [crumb(request, _("Stock"), "stock")],
    }
    return render(request, "projects/crew_day_list.html", context)


@require_GET
def block_log(request: HttpRequest, uid: UUID) -> HttpResponse:
    """The planting log of a block by lot, and its days."""
    actor = request.actor
    block = access.block_for(actor, uid, "planting.view")
    days = access.visible_crew_days(actor).filter(block=block)
    context = {
        "planting_block": block,
        "found": selectors.open_days(days, clocks.today_at(block.site)),
        "over": page(selectors.over_days(days), request, ("-day", "-id")),
        "log": selectors.planting_log(actor, block),
        "quality": planting_quality.of_block(actor, block),
        "crumbs": block_crumbs(request, block),
    }
    return render(request, "projects/block_log.html", context)


@require_http_methods(["GET", "POST"])
def crew_day_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    block = access.block_for(actor, uid)
    actor.require("planting.edit")
    form = CrewDayForm(actor, posted(request), initial={"day": clocks.today_at(block.site)})
    if form.is_bound and (day := attempt(form, services.plan_day, actor=actor, block=block)):
        messages.success(request, _("The day is on the list. Next: who goes, and with which lots."))
        return to(request, "crew_day_detail", uid=day.uid)
    return form_page(
        request, form, title=_("Plan a planting day in %(block)s") % {"block": block}, submit=_("Plan the day"),
        back=url(request, "block_detail", uid=uid), crumbs=block_crumbs(request, block),
    )  # fmt: skip


@require_GET
def crew_day_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    day = access.crew_day_for(actor, uid)
    lots, people = selectors.lots_of(day), selectors.going(day)
    is_open = day.state in selectors.OPEN
    context = {
        "day": day, "lots": lots, "people": people, "is_open": is_open,
        "warnings": warnings_of(day, lots, people) if is_open else [],
        "morning": selectors.morning_of(day, actor.organisation.units),
        "has_come": day.day <= clocks.today_at(day.block.site),
        "quality": planting_quality.of_day(actor, day),
        "panels": [] if is_open else panels.filled("crew_day", actor, day),
        "history": history_of(actor, [day.uid]), "crumbs": day_crumbs(request, day),
    }  # fmt: skip
    return render(request, "projects/crew_day_detail.html", context)


@require_http_methods(["GET", "POST"])
def crew_day_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    day = access.crew_day_for(actor, uid, "planting.edit")
    form = CrewDayForm(actor, posted(request), instance=day)
    if form.is_bound and attempt(form, services.change_day, actor=actor, crew_day=day):
        messages.success(request, _("Saved."))
        return to(request, "crew_day_detail", uid=uid)
    return _form(request, form, day, _("Change the planting day"), _("Save"))


def _form(
    request: HttpRequest, form: Any, day: CrewDay, title: str, submit: str, **context: Any
) -> HttpResponse:
    back = url(request, "crew_day_detail", uid=day.uid)
    return form_page(
        request, form, title=title, submit=submit, back=back, crumbs=below_day(request, day), **context
    )


@require_http_methods(["GET", "POST"])
def crew_day_people(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Who goes, and who looks after whom."""
    actor = request.actor
    day = access.crew_day_for(actor, uid, "planting.edit")
    form = CrewForm(actor, selectors.going(day), services.people_token(day), posted(request))

    def save(*, people: Any, version: str, **_boxes: Any) -> CrewDay:
        return services.set_people(actor=actor, crew_day=day, people=people, version=version)

    if form.is_bound and attempt(form, save):
        messages.success(request, _("The crew is written down."))
        return to(request, "crew_day_detail", uid=uid)
    intro = _(
        "Everybody has somebody who looks after them and knows where they are. Save for more empty rows."
    )
    return _form(request, form, day, _("Who goes, and who looks after whom"), _("Save the crew"), intro=intro)


@require_http_methods(["GET", "POST"])
def crew_day_lot_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    day = access.crew_day_for(actor, uid, "planting.edit")
    form = CrewDayLotForm(actor, day, posted(request), initial={"lot": request.GET.get("lot")})
    if form.is_bound and attempt(form, crew_day_lots.add_lot, actor=actor, crew_day=day):
        messages.success(request, _("The lot is on the day."))
        return to(request, "crew_day_detail", uid=uid)
    return _form(request, form, day, _("Which lot the crew takes along"), _("Put it on the day"))


def _row(request: HttpRequest, uid: UUID) -> CrewDayLot:
    """A lot on a day that the actor may change."""
    rows = CrewDayLot.objects.filter(crew_day__in=access.visible_crew_days(request.actor))
    row: CrewDayLot = access.get_or_404(
        rows.select_related("lot", "replaces", "crew_day__block__site"), uid=uid
    )
    request.actor.require("planting.edit")
    return row


@require_http_methods(["GET", "POST"])
def crew_day_lot_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    row = _row(request, uid)
    form = CrewDayLotForm(request.actor, row.crew_day, posted(request), instance=row)
    if form.is_bound and attempt(form, crew_day_lots.change_lot, actor=request.actor, row=row):
        messages.success(request, _("Saved."))
        return to(request, "crew_day_detail", uid=row.crew_day.uid)
    return _form(request, form, row.crew_day, _("Change lot %(lot)s") % {"lot": row.lot}, _("Save"))


@require_POST
def crew_day_lot_remove(request: HttpRequest, uid: UUID) -> HttpResponse:
    row = _row(request, uid)
    try:
        crew_day_lots.take_lot_off(actor=request.actor, row=row)
    except Refusal as refusal:
        messages.error(request, refusal.message)
    else:
        messages.success(request, _("The lot stays behind that day."))
    return to(request, "crew_day_detail", uid=row.crew_day.uid)

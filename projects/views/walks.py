"""Walks through planted ground: what is due, what was seen, and what befell a site."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access, clocks
from projects.errors import Refusal
from projects.forms.walks import SignRows, SiteEventForm, WalkForm
from projects.models import Block, Walk
from projects.selectors import walks as selectors
from projects.selectors.papers import papers_of
from projects.selectors.records import history_of
from projects.services import site_events
from projects.services import walks as services
from projects.views.care import care_crumbs
from projects.views.saving import act, attempt, crumb, form_page, posted, refuse, to, url


def walk_crumbs(request: HttpRequest) -> list[dict[str, str]]:
    """The way to a page about walks."""
    return [*care_crumbs(request), crumb(request, _("Walks"), "walk_list")]


@require_GET
def walk_list(request: HttpRequest) -> HttpResponse:
    actor = request.actor
    actor.require("walk.view")
    found = selectors.walk_list(actor, clocks.today_of(actor.organisation))
    sites = access.visible_sites(actor).filter(archived_at__isnull=True) if actor.may("walk.edit") else []
    context = {"found": found, "sites": sites, "crumbs": care_crumbs(request)}
    return render(request, "projects/walk_list.html", context)


@require_GET
def walk_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    walk = access.walk_for(actor, uid)
    sightings = list(walk.sightings.select_related("task").order_by("id"))
    papers = papers_of(actor, sightings)
    signs = [{"seen": row, "papers": [p for p in papers if p.subject.pk == row.pk]} for row in sightings]
    context = {
        "walk": walk, "signs": signs, "history": history_of(actor, [walk.uid]), "crumbs": walk_crumbs(request),
    }  # fmt: skip
    return render(request, "projects/walk_detail.html", context)


@require_http_methods(["GET", "POST"])
def walk_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Write down a walk; "one more sign" posts the form and draws it again with another row."""
    actor = request.actor
    block = access.block_for(actor, uid)
    actor.require("walk.edit")
    data = posted(request)
    rows = SignRows(data, request.FILES)
    today = clocks.today_at(block.site)
    if data is not None and rows.wants_more:
        form = WalkForm(initial={name: data.get(name, "") for name in WalkForm.base_fields})
        if request.FILES:
            messages.warning(
                request, _("Choose the photos again: a page that is drawn anew cannot keep them.")
            )
    else:
        form = WalkForm(data, initial={"walked_on": today})
        if data is not None and (walk := _recorded(request, block, form, rows)):
            return to(request, "walk_detail", uid=walk.uid)
    context = {
        "planting_block": block, "form": form, "rows": rows.forms,
        "back": url(request, "block_detail", uid=uid), "crumbs": care_crumbs(request, block),
    }  # fmt: skip
    wrong = form.errors or any(row.errors for row in rows.forms)
    return render(request, "projects/walk_form.html", context, status=422 if wrong else 200)


def _recorded(request: HttpRequest, block: Block, form: WalkForm, rows: SignRows) -> Walk | None:
    are_valid = rows.are_valid()
    if not (form.is_valid() and are_valid):
        return None
    seen = rows.seen()
    try:
        walk = services.record_walk(actor=request.actor, block=block, sightings=seen, **form.cleaned_data)
    except Refusal as refusal:
        refuse(form, refusal)
        return None
    messages.success(request, _said(walk))
    return walk


def _said(walk: Walk) -> str:
    signs = list(walk.sightings.all())
    if not signs:
        return _("Noted: nothing was seen that wants doing.")
    tasks = sum(row.task_id is not None for row in signs)
    words = ngettext("%(n)s sign is noted.", "%(n)s signs are noted.", len(signs)) % {"n": len(signs)}
    opened = ngettext("%(n)s task is on the list.", "%(n)s tasks are on the list.", tasks) % {"n": tasks}
    return f"{words} {opened}" if tasks else words


@require_POST
def walk_nothing(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Walked today, nothing seen: a full answer in one tap."""
    actor = request.actor
    block = access.block_for(actor, uid)
    actor.require("walk.edit")
    words = _("Noted: walked today, nothing seen that wants doing.")
    values: dict[str, Any] = {"block": block, "walked_on": clocks.today_at(block.site)}
    answer = act(request, services.record_walk, words, "block_detail", uid, **values)
    return to(request, "walk_list") if "list" in request.POST else answer


@require_POST
def walk_void(request: HttpRequest, uid: UUID) -> HttpResponse:
    walk = access.walk_for(request.actor, uid, "walk.edit")
    reason = request.POST.get("reason", "")
    words = _("Taken back. It stays on the page, struck out.")
    return act(request, services.void_walk, words, "walk_detail", uid, walk=walk, reason=reason)


@require_http_methods(["GET", "POST"])
def site_event_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Say what befell a site."""
    actor = request.actor
    site = access.site_for(actor, uid)
    actor.require("walk.edit")
    form = SiteEventForm(posted(request), initial={"happened_on": clocks.today_at(site)})
    if form.is_bound and attempt(form, site_events.tell_event, actor=actor, site=site):
        messages.success(request, _("Noted. Its planted blocks are due to be walked."))
        return to(request, "walk_list")
    intro = _(
        "Blocks with trees in them are then due to be walked within days. Go only where those responsible let people "
        "in again: limbs fall after storms and fires, banks give way after floods. Nobody goes alone."
    )
    return form_page(
        request, form, title=_("What befell %(site)s") % {"site": site}, submit=_("Note it"), intro=intro,
        back=url(request, "walk_list"), crumbs=walk_crumbs(request),
    )  # fmt: skip


@require_POST
def site_event_void(request: HttpRequest, uid: UUID) -> HttpResponse:
    event = access.site_event_for(request.actor, uid, "walk.edit")
    reason = request.POST.get("reason", "")
    try:
        site_events.void_event(actor=request.actor, event=event, reason=reason)
    except Refusal as refusal:
        messages.error(request, refusal.message)
    else:
        messages.success(request, _("Taken back. No walk is due for it."))
    return to(request, "walk_list")

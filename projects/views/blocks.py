"""Blocks: one block with its ground and cohorts, adding, changing, redrawing, putting away; its holdings."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access, clocks, panels
from projects.forms.places import BlockForm, GroundForm, HoldingForm, NewBlockForm
from projects.models import Block, Layout, Site
from projects.selectors import places
from projects.selectors.care import care_rows
from projects.selectors.readiness import readiness_of
from projects.selectors.records import history_of
from projects.selectors.walks import block_walks
from projects.services import blocks as services
from projects.services import holdings
from projects.views.saving import attempt, crumb, form_page, posted, shelf, to, url


def _crumbs(request: HttpRequest, site: Site, block: Block | None = None) -> list[dict[str, str]]:
    crumbs = [crumb(request, _("Sites"), "site_list"), crumb(request, site, "site_detail", uid=site.uid)]
    return [*crumbs, crumb(request, block, "block_detail", uid=block.uid)] if block else crumbs


@require_GET
def block_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    block = access.block_for(actor, uid)
    grounds = list(block.grounds.all())
    ground = grounds[0] if grounds else None
    is_list = block.layout == Layout.HOLDINGS
    care = care_rows(actor, block, clocks.today_of(actor.organisation))
    context = {
        "planting_block": block,
        "ground": ground,
        "older_grounds": grounds[1:],
        "outside": places.outside_share(block, ground),
        "shapes": places.block_shapes(block, ground),
        "spacing": places.spacing_facts(block, ground.net_area_ha if ground else None),
        "cohorts": places.block_cohorts(block) if actor.may("planting.view") else [],
        "holdings": places.holding_rows(block) if is_list and actor.may("planting.view") else [],
        "is_list": is_list,
        "care": care,
        "walks": block_walks(actor, block, clocks.today_of(actor.organisation)),
        "panels": panels.filled("block", actor, block),
        "readiness": readiness_of(block.site, clocks.today_at(block.site))
        if actor.may("assessment.view")
        else None,
        "history": history_of(actor, [block.uid, *(row.task.uid for row in care)]),
        "crumbs": _crumbs(request, block.site),
    }
    return render(request, "projects/block_detail.html", context)


@require_http_methods(["GET", "POST"])
def block_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    site = access.site_for(actor, uid)
    actor.require("block.edit")
    if actor.may("project.edit") and not access.visible_projects(actor).current().exists():
        messages.info(request, _("A block belongs to a project, so begin the project first."))
        return to(request, "project_new")
    form = NewBlockForm(actor, posted(request), request.FILES or None)
    if form.is_bound and (block := attempt(form, services.make_block, actor=actor, site=site)):
        _say_if_outside(request, block)
        messages.success(request, _("The block is there. Next: record a planting day in it."))
        return to(request, "block_detail", uid=block.uid)
    return form_page(
        request, form, title=_("Add a block to %(site)s") % {"site": site}, submit=_("Add the block"),
        back=url(request, "site_detail", uid=uid), crumbs=_crumbs(request, site),
        map={"field": "geometry", "label": _("Map to draw the block on"), "shapes": places.site_shapes(actor, site)},
    )  # fmt: skip


def _say_if_outside(request: HttpRequest, block: Block) -> None:
    ground = block.grounds.first()
    share = places.outside_share(block, ground)
    if share is not None:
        words = _(
            "%(share)s %% of the block lies outside the site's boundary. Check which of the two is right."
        )
        messages.warning(request, words % {"share": max(1, round(share * 100))})


@require_http_methods(["GET", "POST"])
def block_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    block = access.block_for(actor, uid, "block.edit")
    form = BlockForm(actor, posted(request), instance=block)
    if form.is_bound and attempt(form, services.edit_block, actor=actor, block=block):
        messages.success(request, _("Saved."))
        return to(request, "block_detail", uid=uid)
    return form_page(
        request, form, title=_("Change %(name)s") % {"name": block}, submit=_("Save"),
        back=url(request, "block_detail", uid=uid), crumbs=_crumbs(request, block.site, block),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def block_ground(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Add a version of the ground; the older ones stay readable."""
    actor = request.actor
    block = access.block_for(actor, uid, "block.edit")
    form = GroundForm(block.grounds.first(), posted(request), request.FILES or None)
    if form.is_bound and attempt(form, services.redraw_ground, actor=actor, block=block):
        _say_if_outside(request, block)
        messages.success(request, _("The new ground is kept; the old one stays below."))
        return to(request, "block_detail", uid=uid)
    shapes = places.site_shapes(actor, block.site, blocks=False)
    return form_page(
        request, form, title=_("Redraw the ground of %(name)s") % {"name": block}, submit=_("Keep the new ground"),
        back=url(request, "block_detail", uid=uid), crumbs=_crumbs(request, block.site, block),
        map={"field": "geometry", "label": _("Map to draw the block on"), "shapes": shapes},
    )  # fmt: skip


@require_POST
def block_archive(request: HttpRequest, uid: UUID) -> HttpResponse:
    block = access.block_for(request.actor, uid, "block.edit")
    words = (_("The block is put away; nothing of it is lost."), _("The block is back in use."))
    return shelf(
        request,
        services.archive_block,
        services.restore_block,
        words,
        page="block_detail",
        uid=uid,
        block=block,
    )


@require_http_methods(["GET", "POST"])
def holding_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    block = access.block_for(actor, uid, "block.edit")
    form = HoldingForm(posted(request))
    if form.is_bound and attempt(form, holdings.make_holding, actor=actor, block=block):
        messages.success(request, _("The holding is on the list."))
        return to(request, "block_detail", uid=uid)
    return form_page(
        request, form, title=_("Add a holding to %(name)s") % {"name": block}, submit=_("Add the holding"),
        back=url(request, "block_detail", uid=uid), crumbs=_crumbs(request, block.site, block),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def holding_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    rows = access.visible_holdings(actor).select_related("block__site", "person")
    holding = access.get_or_404(rows, uid=uid)
    actor.require("block.edit")
    form = HoldingForm(posted(request), instance=holding)
    block = holding.block
    if form.is_bound and attempt(form, holdings.edit_holding, actor=actor, holding=holding):
        messages.success(request, _("Saved."))
        return to(request, "block_detail", uid=block.uid)
    return form_page(
        request, form, title=_("Change %(name)s") % {"name": holding}, submit=_("Save"),
        back=url(request, "block_detail", uid=block.uid), crumbs=_crumbs(request, block.site, block),
    )  # fmt: skip

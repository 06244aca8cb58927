"""Seed of a site: its trees, what was gathered, and what each mother tree gave."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.dates import MONTHS_3
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access, clocks, seed_words
from projects.forms.seed import SeedCollectionForm, SeedShareForm, SeedTreeForm
from projects.models import SeedShare, Site
from projects.selectors import seed as selectors
from projects.selectors.records import history_of
from projects.services import seed as services
from projects.views.saving import act, attempt, crumb, form_page, posted, to, url

CAUTIONS = (seed_words.CROP, seed_words.CLIMBING, seed_words.PERMIT)


def _crumbs(request: HttpRequest, site: Site, *, inside: bool = True) -> list[dict[str, str]]:
    found = [
        crumb(request, _("Sites"), "site_list"),
        crumb(request, site, "site_detail", uid=site.uid),
    ]
    return [*found, crumb(request, _("Seed"), "site_seed", uid=site.uid)] if inside else found


@require_GET
def site_seed(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    site = access.site_for(actor, uid)
    actor.require("seed.view")
    seed = selectors.site_seed(actor, site)
    trees = [row.tree.uid for row in seed.trees]
    context = {
        "site": site, "seed": seed, "months": list(MONTHS_3.values()), "cautions": CAUTIONS,
        "history": history_of(actor, [*trees, *(row.collection.uid for row in seed.collections)]),
        "crumbs": _crumbs(request, site, inside=False),
    }  # fmt: skip
    return render(request, "projects/site_seed.html", context)


@require_http_methods(["GET", "POST"])
def seed_tree_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    site = access.site_for(actor, uid)
    actor.require("seed.edit")
    form = SeedTreeForm(actor, posted(request))
    if form.is_bound and attempt(form, services.add_tree, actor=actor, site=site):
        messages.success(request, _("The tree is on the list."))
        return to(request, "site_seed", uid=uid)
    return form_page(
        request, form, title=_("Add a seed tree of %(name)s") % {"name": site}, submit=_("Add the tree"),
        back=url(request, "site_seed", uid=uid), crumbs=_crumbs(request, site),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def seed_tree_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    tree = access.seed_tree_for(actor, uid, "seed.edit")
    form = SeedTreeForm(actor, posted(request), instance=tree)
    if form.is_bound and attempt(form, services.edit_tree, actor=actor, tree=tree):
        messages.success(request, _("Saved."))
        return to(request, "site_seed", uid=tree.site.uid)
    return form_page(
        request, form, title=_("Change seed tree %(name)s") % {"name": tree}, submit=_("Save"),
        back=url(request, "site_seed", uid=tree.site.uid), crumbs=_crumbs(request, tree.site),
    )  # fmt: skip


@require_POST
def seed_tree_remove(request: HttpRequest, uid: UUID) -> HttpResponse:
    tree = access.seed_tree_for(request.actor, uid, "seed.edit")
    done = _("Seed tree %(name)s is off the list.") % {"name": tree}
    return act(request, services.remove_tree, done, "site_seed", tree.site.uid, tree=tree)


@require_http_methods(["GET", "POST"])
def seed_collection_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    site = access.site_for(actor, uid)
    actor.require("seed.edit")
    initial = {"collected_on": clocks.today_at(site), "collector": actor.person}
    form = SeedCollectionForm(actor, posted(request), initial=initial)
    if form.is_bound and (row := attempt(form, services.add_collection, actor=actor, site=site)):
        messages.success(
            request, _("The seed lot is recorded. Say below what each tree gave, if it was weighed.")
        )
        return to(request, "seed_collection_detail", uid=row.uid)
    return form_page(
        request, form, title=_("Record seed gathered on %(name)s") % {"name": site}, submit=_("Record it"),
        intro=seed_words.CROP, back=url(request, "site_seed", uid=uid), crumbs=_crumbs(request, site),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def seed_collection_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    row = access.seed_collection_for(actor, uid, "seed.edit")
    form = SeedCollectionForm(actor, posted(request), instance=row)
    if form.is_bound and attempt(form, services.edit_collection, actor=actor, collection=row):
        messages.success(request, _("Saved."))
        return to(request, "seed_collection_detail", uid=uid)
    return form_page(
        request, form, title=_("Correct seed lot %(name)s") % {"name": row}, submit=_("Save"),
        back=url(request, "seed_collection_detail", uid=uid), crumbs=_crumbs(request, row.site),
    )  # fmt: skip


@require_GET
def seed_collection_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    row = access.seed_collection_for(actor, uid)
    context = {
        "collection": row, "page": selectors.collection_page(actor, row), "cautions": CAUTIONS,
        "history": history_of(actor, [row.uid]), "crumbs": _crumbs(request, row.site),
    }  # fmt: skip
    return render(request, "projects/seed_collection.html", context)


@require_http_methods(["GET", "POST"])
def seed_share_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    row = access.seed_collection_for(actor, uid, "seed.edit")
    form = SeedShareForm(actor, row, posted(request))
    if form.is_bound and attempt(form, services.add_share, actor=actor, collection=row):
        messages.success(request, _("Its share is in."))
        return to(request, "seed_collection_detail", uid=uid)
    return form_page(
        request, form, title=_("Say what one tree gave to %(name)s") % {"name": row}, submit=_("Add its share"),
        back=url(request, "seed_collection_detail", uid=uid), crumbs=_crumbs(request, row.site),
    )  # fmt: skip


@require_POST
def seed_share_remove(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    rows = SeedShare.objects.filter(collection__in=access.visible_seed_collections(actor))
    share = access.get_or_404(rows.select_related("collection__site", "seed_tree"), uid=uid)
    actor.require("seed.edit")
    done = _("Its share is out.")
    where = share.collection.uid
    return act(request, services.remove_share, done, "seed_collection_detail", where, share=share)

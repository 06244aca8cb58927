"""An organisation's own species and values: added, changed, taken back."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects.errors import Refusal
from projects.forms.own_species import FactsForm, OwnSpeciesForm, PlaceForm, StatusForm
from projects.selectors.records import history_of
from projects.services import own_species as services
from projects.views.saving import attempt, crumb, form_page, posted, to, url
from species.access import species_for
from species.models import Species
from species.selectors import own


def editable(request: HttpRequest, slug: str) -> Species:
    """A species the actor may say something of."""
    species = species_for(request.actor.organisation.uid, slug)
    request.actor.require("species.edit")
    return species


def crumbs_of(request: HttpRequest, species: Species | None = None) -> list[dict[str, str]]:
    crumbs = [crumb(request, _("Species"), "species:list")]
    if species is not None:
        crumbs.append(crumb(request, species, "species:detail", slug=species.slug))
    return crumbs


@require_http_methods(["GET", "POST"])
def species_new(request: HttpRequest) -> HttpResponse:
    actor = request.actor
    actor.require("species.edit")
    form = OwnSpeciesForm(posted(request))
    species = attempt(form, services.add_species, actor=actor) if form.is_bound else None
    if species is not None:
        messages.success(
            request, _("Added for your organisation. Say now what it tolerates and where it belongs.")
        )
        return to(request, "own_values", slug=species.slug)
    return form_page(
        request, form, title=_("Add a species"), submit=_("Add it"), back=url(request, "species:list"),
        crumbs=crumbs_of(request),
        intro=_("Only your organisation sees it. Look first whether the shared reference has it under another name."),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def own_species_edit(request: HttpRequest, slug: str) -> HttpResponse:
    species = editable(request, slug)
    if species.is_shared:
        messages.info(
            request, _("Name and character are of the shared reference; state here what you hold otherwise.")
        )
        return to(request, "own_values", slug=slug)
    form = OwnSpeciesForm(posted(request), initial=OwnSpeciesForm.start(species))
    if form.is_bound and attempt(form, services.edit_species, actor=request.actor, species=species):
        messages.success(request, _("Saved."))
        return to(request, "own_values", slug=slug)
    return form_page(
        request, form, title=_("Change %(name)s") % {"name": species}, submit=_("Save"),
        back=url(request, "own_values", slug=slug), crumbs=crumbs_of(request, species),
    )  # fmt: skip


@require_GET
def own_values(request: HttpRequest, slug: str) -> HttpResponse:
    """What the shared reference says and what the organisation says, side by side."""
    species, actor = editable(request, slug), request.actor
    context = {
        "species": species,
        "groups": own.stated_groups(species, actor.organisation.uid),
        "places": own.place_lines(species, actor.organisation.uid),
        "history": history_of(actor, [services.remembered_uid(actor.organisation, species)]),
        "crumbs": crumbs_of(request, species),
    }
    return render(request, "species/own_values.html", context)


def stated(request: HttpRequest, species: Species, fact: str) -> own.StatedGroup:
    found = own.stated_groups(species, request.actor.organisation.uid)
    group = next((each for each in found if each.group.key == fact), None)
    if group is None:
        raise Http404(_("There is nothing at this address."))
    return group


@require_http_methods(["GET", "POST"])
def own_facts(request: HttpRequest, slug: str, fact: str) -> HttpResponse:
    species = editable(request, slug)
    group = stated(request, species, fact)
    form = FactsForm(group, posted(request))
    changes = (
        attempt(form, services.state_facts, actor=request.actor, species=species) if form.is_bound else None
    )
    if changes is not None:
        messages.success(request, _("Saved.") if changes else _("Nothing was different."))
        return to(request, "own_values", slug=slug)
    words = {"fact": group.group.label, "name": species}
    return form_page(
        request, form, title=_("%(fact)s: what you hold of %(name)s") % words, submit=_("Save"),
        back=url(request, "own_values", slug=slug), crumbs=crumbs_of(request, species),
        intro=_("An empty field leaves the shared value standing. Yours count for your organisation only."),
    )  # fmt: skip


@require_POST
def own_facts_remove(request: HttpRequest, slug: str, fact: str) -> HttpResponse:
    species = editable(request, slug)
    group = stated(request, species, fact).group
    return told(request, slug, services.take_back_facts, species=species, group=group)


@require_http_methods(["GET", "POST"])
def own_status_new(request: HttpRequest, slug: str) -> HttpResponse:
    species = editable(request, slug)
    form = StatusForm(
        posted(request), initial={name: request.GET.get(name, "") for name in ("country_code", "region")}
    )
    changed = (
        attempt(form, services.state_status, actor=request.actor, species=species) if form.is_bound else None
    )
    if changed is not None:
        messages.success(request, _("Saved.") if changed else _("Nothing was different."))
        return to(request, "own_values", slug=slug)
    return form_page(
        request, form, title=_("Where %(name)s belongs, as you hold it") % {"name": species}, submit=_("Save"),
        back=url(request, "own_values", slug=slug), crumbs=crumbs_of(request, species),
        intro=_("Counts for your organisation only. Invasive species are refused where they are invasive; one "
                "from elsewhere needs a reason in every mix."),
    )  # fmt: skip


@require_POST
def own_status_remove(request: HttpRequest, slug: str) -> HttpResponse:
    species = editable(request, slug)
    form = PlaceForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("Say which place."))
        return to(request, "own_values", slug=slug)
    return told(request, slug, services.take_back_status, species=species, **form.cleaned_data)


def told(request: HttpRequest, slug: str, service: Any, **values: Any) -> HttpResponse:
    """Take something back and return to the page of own values."""
    try:
        service(actor=request.actor, **values)
    except Refusal as refusal:
        messages.error(request, refusal.message)
    else:
        messages.success(request, _("Taken back. The shared reference stands again where it says something."))
    return to(request, "own_values", slug=slug)

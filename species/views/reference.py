"""Pages of the species reference. They only read; the reference changes with its files."""

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from species.access import species_for
from species.countries import language_name
from species.forms import SpeciesFilterForm
from species.selectors import pages
from species.selectors.facts import vernacular_names
from species.selectors.finding import current


@require_GET
def species_list(request: HttpRequest) -> HttpResponse:
    """List the species that may be chosen, searched by any name and filtered by standing in a country."""
    request.actor.require("species.view")
    form = SpeciesFilterForm(request.GET, countries=pages.covered_countries(request.actor.organisation.uid))
    chosen = form.cleaned_data if form.is_valid() else {}
    page = pages.species_page(
        organisation_uid=request.actor.organisation.uid,
        search=chosen.get("q", ""),
        country_code=chosen.get("country", ""),
        status=chosen.get("status", ""),
        after=slugify(request.GET.get("after", "")),
    )
    context = {
        "form": form,
        "page": page,
        "first_url": _address(request.GET, "") if request.GET.get("after") else "",
        "next_url": _address(request.GET, page.after) if page.after else "",
    }
    return render(request, "species/species_list.html", context, status=200 if form.is_valid() else 422)


@require_GET
def species_detail(request: HttpRequest, slug: str) -> HttpResponse:
    """Show everything the reference holds on one species, each fact with its source."""
    request.actor.require("species.view")
    organisation = request.actor.organisation
    species = species_for(organisation.uid, slug)
    list_url = reverse("species:list", kwargs={"org": organisation.slug})
    context = {
        "species": species,
        "successor": current(species) if species.superseded_by_id else None,
        "everyday_name": vernacular_names([species.pk]).get(species.pk, ""),
        "names": [(row, language_name(row.language)) for row in species.names.all()],
        "synonyms": species.synonyms.all(),
        "standing": pages.standing_by_place(species, organisation.uid),
        "groups": pages.trait_groups(species, organisation.uid),
        "crumbs": [{"url": list_url, "label": _("Species")}],
    }
    return render(request, "species/species_detail.html", context)


def _address(query: QueryDict, after: str) -> str:
    """The same list from another place on: the query of this request with `after` changed."""
    changed = query.copy()
    changed.pop("after", None)
    if after:
        changed["after"] = after
    return f"?{changed.urlencode()}"

"""The only ways to a species: what an organisation may see is the shared reference and its own."""

from uuid import UUID

from django.db.models import QuerySet
from django.http import Http404
from django.utils.translation import gettext as _

from species.models import Species


def visible_species(organisation_uid: UUID | None) -> QuerySet[Species]:
    """Shared species and the organisation's own, superseded ones included (old records name them)."""
    return Species.objects.shared_or_owned_by(organisation_uid)


def species_for(organisation_uid: UUID | None, slug: str) -> Species:
    """Return one species by its slug: 404 when it belongs to somebody else or to nobody."""
    try:
        return visible_species(organisation_uid).select_related("superseded_by").get(slug=slug)
    except Species.DoesNotExist as missing:
        raise Http404(_("There is nothing at this address.")) from missing

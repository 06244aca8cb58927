"""The only ways to a species and to what is said of it: the shared reference, and the organisation's own.

What another organisation says is never seen and never used. Of one and the same fact an organisation's own row
stands in the place of the shared one, for that organisation alone.
"""

from typing import TypeVar
from uuid import UUID

from django.db.models import Exists, Model, OuterRef, Q, QuerySet
from django.http import Http404
from django.utils.translation import gettext as _

from species.models import RangeStatus, Species, SpeciesTrait

Row = TypeVar("Row", bound=Model)


def visible_species(organisation_uid: UUID | None) -> QuerySet[Species]:
    """Shared species and the organisation's own, superseded ones included (old records name them)."""
    return Species.objects.shared_or_owned_by(organisation_uid)


def species_for(organisation_uid: UUID | None, slug: str) -> Species:
    """Return one species by its slug: 404 when it belongs to somebody else or to nobody."""
    try:
        return visible_species(organisation_uid).select_related("superseded_by").get(slug=slug)
    except Species.DoesNotExist as missing:
        raise Http404(_("There is nothing at this address.")) from missing


def standing_traits(organisation_uid: UUID | None) -> QuerySet[SpeciesTrait]:
    """Facts as this organisation holds them: one row at most per species and trait."""
    return _standing(SpeciesTrait.objects.all(), organisation_uid, ("species", "trait"))


def standing_ranges(organisation_uid: UUID | None) -> QuerySet[RangeStatus]:
    """Standing as this organisation holds it: one row at most per species, country and region."""
    return _standing(RangeStatus.objects.all(), organisation_uid, ("species", "country_code", "region"))


def shared_traits() -> QuerySet[SpeciesTrait]:
    """Facts of the shared reference, also those an organisation holds otherwise."""
    return SpeciesTrait.objects.filter(owner_organisation_uid__isnull=True)


def shared_ranges() -> QuerySet[RangeStatus]:
    """Standing by the shared reference, also where an organisation holds it otherwise."""
    return RangeStatus.objects.filter(owner_organisation_uid__isnull=True)


def own_traits(organisation_uid: UUID) -> QuerySet[SpeciesTrait]:
    """Only what the organisation itself says."""
    return SpeciesTrait.objects.filter(owner_organisation_uid=organisation_uid)


def own_ranges(organisation_uid: UUID) -> QuerySet[RangeStatus]:
    """Only the standing the organisation itself states."""
    return RangeStatus.objects.filter(owner_organisation_uid=organisation_uid)


def _standing(rows: QuerySet[Row], organisation_uid: UUID | None, key: tuple[str, ...]) -> QuerySet[Row]:
    """Keep own rows, and shared ones no own row of the same key stands in for."""
    shared = Q(owner_organisation_uid__isnull=True)
    if organisation_uid is None:
        return rows.filter(shared)
    own = rows.model._default_manager.filter(
        owner_organisation_uid=organisation_uid, **{name: OuterRef(name) for name in key}
    )
    return rows.filter(Q(owner_organisation_uid=organisation_uid) | (shared & ~Exists(own)))

"""Finding species by any of their names."""

from uuid import UUID

from django.db.models import Exists, OuterRef, Q, QuerySet

from species.access import standing_ranges, visible_species
from species.folding import folded
from species.models import Species, SpeciesName, SpeciesSynonym


def matching(rows: QuerySet[Species], text: str) -> QuerySet[Species]:
    """Keep species with a scientific name, synonym, vernacular or superseded name that holds `text`."""
    wanted = folded(text)
    if not wanted:
        return rows
    by_name = SpeciesName.objects.filter(species=OuterRef("pk"), folded__contains=wanted)
    by_synonym = SpeciesSynonym.objects.filter(species=OuterRef("pk"), folded__contains=wanted)
    by_old_name = Species.objects.filter(superseded_by=OuterRef("pk"), folded__contains=wanted)
    return rows.filter(
        Q(folded__contains=wanted) | Exists(by_name) | Exists(by_synonym) | Exists(by_old_name)
    )


def with_status(
    rows: QuerySet[Species], country_code: str, status: str, *, organisation_uid: UUID | None
) -> QuerySet[Species]:
    """Keep species that have a status in the country as a whole, as the organisation holds it."""
    there = standing_ranges(organisation_uid).filter(
        species=OuterRef("pk"), country_code=country_code, region="", status=status
    )
    return rows.filter(Exists(there))


def find_exactly(organisation_uid: UUID | None, text: str) -> list[Species]:
    """Return the species that `text` names in full, at most one unless the name is shared by several.

    The first kind of name that matches decides: slug, then scientific name, then synonym, then vernacular.
    A superseded species is replaced by the one that stands for it. An empty list means an unknown name; more
    than one row means that the writer must be asked which.
    """
    rows, wanted = visible_species(organisation_uid), folded(text)
    if not wanted:
        return []
    ways = (
        Q(slug=text.strip().lower()),
        Q(folded=wanted),
        Exists(SpeciesSynonym.objects.filter(species=OuterRef("pk"), folded=wanted)),
        Exists(SpeciesName.objects.filter(species=OuterRef("pk"), folded=wanted)),
    )
    for way in ways:
        if found := list(rows.filter(way)):
            return _in_use(found, rows)
    return []


def current(species: Species) -> Species:
    """Return the species that stands for this one now: itself, or the end of its line of successors."""
    seen = {species.pk}
    while species.superseded_by is not None and species.superseded_by_id not in seen:
        species = species.superseded_by
        seen.add(species.pk)
    return species


def _in_use(found: list[Species], rows: QuerySet[Species]) -> list[Species]:
    standing = {species.pk: species for species in map(current, found)}
    return sorted(standing.values(), key=lambda species: species.scientific_name)

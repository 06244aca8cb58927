"""The whole reference as an organisation sees it, a row for each fact, in a constant number of queries."""

from uuid import UUID

from species.access import standing_ranges, standing_traits, visible_species
from species.fact_table import OWN, SHARED, STATUS, FactRow
from species.models import RangeStatus, Species, SpeciesTrait
from species.services.own_values import value_text
from species.traits import CATALOGUE

ORDER = {key: number for number, key in enumerate(CATALOGUE)}


def fact_rows(organisation_uid: UUID) -> list[FactRow]:
    """Facts by scientific name, in the catalogue's order, then where the species belongs."""
    species = {row.pk: row for row in visible_species(organisation_uid)}
    keyed: list[tuple[tuple, FactRow]] = []
    for trait in standing_traits(organisation_uid):
        if (own := species.get(trait.species_id)) is not None:
            keyed.append(((own.folded, own.pk, ORDER[trait.trait], ""), trait_row(own, trait)))
    for place in standing_ranges(organisation_uid):
        if (own := species.get(place.species_id)) is not None:
            keyed.append(((own.folded, own.pk, len(ORDER), place_of(place)), range_row(own, place)))
    return [row for _key, row in sorted(keyed, key=lambda pair: pair[0])]


def trait_row(species: Species, row: SpeciesTrait) -> FactRow:
    """A trait as a row of the file."""
    value = value_text(row.words or row.value_number)  # type: ignore[arg-type]
    return FactRow(
        species.slug,
        species.scientific_name,
        row.trait,
        "",
        value,
        row.unit,
        row.source,
        row.basis,
        whose(row),
    )


def range_row(species: Species, row: RangeStatus) -> FactRow:
    """A status as a row of the file."""
    return FactRow(
        species.slug,
        species.scientific_name,
        STATUS,
        place_of(row),
        row.status,
        "",
        row.source,
        "",
        whose(row),
    )


def place_of(row: RangeStatus) -> str:
    """A country, or country/region."""
    return f"{row.country_code}/{row.region}" if row.region else row.country_code


def whose(row: SpeciesTrait | RangeStatus) -> str:
    """Who says it."""
    return SHARED if row.owner_organisation_uid is None else OWN

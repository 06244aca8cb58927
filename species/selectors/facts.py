"""Facts about many species at once, shaped for calculations and for pages."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from uuid import UUID

from django.utils.translation import get_language

from species.access import standing_ranges, standing_traits
from species.models import RangeStatus, SpeciesName

Fact = Decimal | tuple[str, ...]


def traits_of(
    species_ids: Iterable[int], keys: Iterable[str] | None = None, *, organisation_uid: UUID | None
) -> dict[int, dict[str, Fact]]:
    """Return numbers and words by species and trait key, as the organisation holds them.

    A trait that is not known is not there.
    """
    rows = standing_traits(organisation_uid).filter(species_id__in=set(species_ids))
    if keys is not None:
        rows = rows.filter(trait__in=set(keys))
    facts: dict[int, dict[str, Fact]] = {}
    for row in rows:
        facts.setdefault(row.species_id, {})[row.trait] = row.words or row.value_number
    return facts


def range_statuses(
    species_ids: Iterable[int], country_code: str, region: str = "", *, organisation_uid: UUID | None
) -> dict[int, str]:
    """Return the status of each species at a place, as the organisation holds it.

    A region's own row outranks its country's. Every asked-for species is there; without a row its status is
    "unknown".
    """
    asked = set(species_ids)
    rows = range_rows(asked, country_code, region, organisation_uid=organisation_uid)
    return {pk: rows[pk].status if pk in rows else str(RangeStatus.Status.UNKNOWN) for pk in asked}


def range_rows(
    species_ids: Iterable[int], country_code: str, region: str = "", *, organisation_uid: UUID | None
) -> dict[int, RangeStatus]:
    """Return the row that decides the status of each species at a place; none where nobody has told us."""
    rows = standing_ranges(organisation_uid).filter(
        species_id__in=set(species_ids), country_code=country_code, region__in={"", region}
    )
    by_region = sorted(
        rows, key=lambda row: row.region
    )  # the country first, so that the region overwrites it
    return {row.species_id: row for row in by_region}


def vernacular_names(species_ids: Iterable[int], language: str | None = None) -> dict[int, str]:
    """Return one name per species in the reader's language, else in English; none where neither is known."""
    order = _languages(language)
    rows = SpeciesName.objects.filter(species_id__in=set(species_ids), language__in=order, is_main=True)
    return _best({(row.species_id, row.language): row.name for row in rows}, order)


def _languages(language: str | None) -> list[str]:
    asked = language or get_language() or "en"
    return list(dict.fromkeys([asked, asked.split("-")[0], "en"]))


def _best(names: Mapping[tuple[int, str], str], order: list[str]) -> dict[int, str]:
    best: dict[int, str] = {}
    for language in reversed(order):  # the most wanted language is written last and stays
        best.update({species_id: name for (species_id, tongue), name in names.items() if tongue == language})
    return best

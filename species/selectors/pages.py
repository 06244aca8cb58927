"""What the species list and the page of one species show."""

from dataclasses import dataclass
from decimal import Decimal
from uuid import UUID

from django.db.models import Prefetch, Q, QuerySet
from django.utils import formats
from django.utils.dates import MONTHS
from django.utils.translation import gettext as _

from species.access import standing_ranges, standing_traits, visible_species
from species.countries import place_name
from species.models import RangeStatus, Species, SpeciesTrait
from species.selectors.facts import vernacular_names
from species.selectors.finding import matching, with_status
from species.traits import CATALOGUE, GROUPS, UNITS

PAGE_SIZE = 40
THIN = "\u202f"  # narrow no-break space between thousands


@dataclass(frozen=True, slots=True)
class ListedSpecies:
    """One row of the list: the species, its everyday name and its standing in each country."""

    species: Species
    name: str
    statuses: list[str]


@dataclass(frozen=True, slots=True)
class SpeciesPage:
    """A stretch of the list; `after` is the slug to continue from, empty at the end."""

    rows: list[ListedSpecies]
    after: str


@dataclass(frozen=True, slots=True)
class TraitGroup:
    """Facts under one heading: (label, value with unit, source) and the labels of what nobody has told us."""

    title: str
    facts: list[tuple[str, str, SpeciesTrait]]
    missing: list[str]


def species_page(
    *,
    organisation_uid: UUID | None,
    search: str = "",
    country_code: str = "",
    status: str = "",
    after: str = "",
) -> SpeciesPage:
    """Return one stretch of the species that may be chosen, by scientific name."""
    rows = matching(visible_species(organisation_uid).current(), search)
    if country_code:
        status = status or RangeStatus.Status.NATIVE
        rows = with_status(rows, country_code, status, organisation_uid=organisation_uid)
    told = Prefetch("range_statuses", standing_ranges(organisation_uid), to_attr="standing")
    rows = _from(rows, organisation_uid, after).order_by("folded", "id").prefetch_related(told)
    found = list(rows[: PAGE_SIZE + 1])
    shown = found[:PAGE_SIZE]
    names = vernacular_names(species.pk for species in shown)
    listed = [ListedSpecies(species, names.get(species.pk, ""), _standing(species)) for species in shown]
    return SpeciesPage(listed, after=shown[-1].slug if len(found) > PAGE_SIZE else "")


def _from(rows: QuerySet[Species], organisation_uid: UUID | None, after: str) -> QuerySet[Species]:
    last = visible_species(organisation_uid).filter(slug=after).first() if after else None
    if last is None:
        return rows
    return rows.filter(Q(folded__gt=last.folded) | Q(folded=last.folded, id__gt=last.pk))


def _standing(species: Species) -> list[str]:
    """Status by country; regions are told on the page of the species."""
    return [
        _("%(status)s in %(place)s")
        % {"status": row.get_status_display(), "place": place_name(row.country_code)}
        for row in species.standing
        if not row.region
    ]


def covered_countries(organisation_uid: UUID | None) -> list[str]:
    """Return the codes of the countries that any range status the organisation holds is about."""
    rows = standing_ranges(organisation_uid).order_by("country_code")
    return list(rows.values_list("country_code", flat=True).distinct())


def standing_by_place(species: Species, organisation_uid: UUID | None) -> list[tuple[str, RangeStatus]]:
    """Return every range status of a species that the organisation holds, with the name of its place."""
    rows = standing_ranges(organisation_uid).filter(species=species)
    return [(place_name(row.country_code, row.region), row) for row in rows]


def trait_groups(species: Species, organisation_uid: UUID | None) -> list[TraitGroup]:
    """Return the facts the organisation holds, by heading, in the catalogue's order, with what is missing."""
    known = {row.trait: row for row in standing_traits(organisation_uid).filter(species=species)}
    groups = []
    for key, title in GROUPS.items():
        kinds = [kind for kind in CATALOGUE.values() if kind.group == key]
        facts = [
            (str(kind.label), value_in_words(known[kind.key]), known[kind.key])
            for kind in kinds
            if kind.key in known
        ]
        missing = [str(kind.label) for kind in kinds if kind.key not in known]
        groups.append(TraitGroup(str(title), facts, missing))
    return groups


def value_in_words(trait: SpeciesTrait) -> str:
    """Write a value as a reader expects it: words, a month's name, or a number with its unit."""
    if trait.kind.words is not None:
        return ", ".join(str(trait.kind.words[word]) for word in trait.words)
    if trait.unit == "month":
        return str(MONTHS[int(trait.value_number)])
    number = number_in_words(trait.value_number)
    return f"pH {number}" if trait.unit == "pH" else f"{number} {UNITS.get(trait.unit, trait.unit)}"


def number_in_words(value: Decimal) -> str:
    """Write a number as every page does: digits in threes by a thin space, a true minus sign.

    >>> number_in_words(Decimal("-1800.50")).replace(THIN, "_")
    '−1_800.5'
    """
    whole, _point, decimals = f"{abs(value.normalize()):,f}".partition(".")
    text = whole.replace(",", THIN)
    if decimals:
        text += formats.get_format("DECIMAL_SEPARATOR") + decimals
    return ("−" if value < 0 else "") + text

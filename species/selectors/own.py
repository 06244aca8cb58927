"""What an organisation says of a species beside what the shared reference says."""

from dataclasses import dataclass
from uuid import UUID

from species.access import own_ranges, own_traits, shared_ranges, shared_traits
from species.countries import place_name
from species.fact_groups import FACT_GROUPS, FactGroup
from species.models import RangeStatus, Species, SpeciesTrait
from species.selectors.pages import value_in_words
from species.traits import Trait


@dataclass(frozen=True, slots=True)
class FactLine:
    """One trait: what the shared reference holds and what the organisation holds; None where neither does."""

    kind: Trait
    shared: SpeciesTrait | None
    own: SpeciesTrait | None

    @property
    def shared_words(self) -> str:
        return value_in_words(self.shared) if self.shared else ""

    @property
    def own_words(self) -> str:
        return value_in_words(self.own) if self.own else ""


@dataclass(frozen=True, slots=True)
class StatedGroup:
    """Traits that are stated together."""

    group: FactGroup
    lines: list[FactLine]

    @property
    def has_own(self) -> bool:
        return any(line.own for line in self.lines)


@dataclass(frozen=True, slots=True)
class PlaceLine:
    """The status in one place by both."""

    place: str
    country_code: str
    region: str
    shared: RangeStatus | None
    own: RangeStatus | None


def stated_groups(species: Species, organisation_uid: UUID) -> list[StatedGroup]:
    """Every group of the catalogue with both values of each trait, in two queries."""
    shared = {row.trait: row for row in shared_traits().filter(species=species)}
    own = {row.trait: row for row in own_traits(organisation_uid).filter(species=species)}
    return [
        StatedGroup(group, [FactLine(kind, shared.get(kind.key), own.get(kind.key)) for kind in group.traits])
        for group in FACT_GROUPS.values()
    ]


def place_lines(species: Species, organisation_uid: UUID) -> list[PlaceLine]:
    """Every place either has told a status of, in two queries."""
    shared = {(row.country_code, row.region): row for row in shared_ranges().filter(species=species)}
    own = {
        (row.country_code, row.region): row for row in own_ranges(organisation_uid).filter(species=species)
    }
    return [
        PlaceLine(place_name(*place), *place, shared.get(place), own.get(place))
        for place in sorted({*shared, *own})
    ]

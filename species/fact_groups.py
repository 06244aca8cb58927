"""Facts that belong together: the points of one tolerance, both ends of a season, or a single trait."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from species.calc.cells import plain_number
from species.calc.suitability import NUMBERS
from species.traits import CATALOGUE, Trait


@dataclass(frozen=True, slots=True)
class FactGroup:
    """Traits stated together: its key in addresses, what a person reads, the traits in their order."""

    key: str
    label: Any
    traits: tuple[Trait, ...]

    @property
    def is_words(self) -> bool:
        """Whether it is told in words."""
        return self.traits[0].words is not None


_LABELS = {
    "rain": gettext_lazy("Rain in a year"),
    "coldest_month": gettext_lazy("Cold of the coldest month"),
    "hottest_month": gettext_lazy("Heat of the hottest month"),
    "dry_months": gettext_lazy("Dry months"),
    "altitude": gettext_lazy("Altitude"),
    "soil_ph": gettext_lazy("Soil reaction"),
    "soil_textures": gettext_lazy("Soil texture"),
    "soil_drainage": gettext_lazy("Soil drainage"),
    "soil_depth": gettext_lazy("Rooting depth"),
    "salinity": gettext_lazy("Soil salinity"),
    "light": gettext_lazy("Light when young"),
    "seeds_per_kg": gettext_lazy("Seeds in a kilogram"),
    "emergence": gettext_lazy("When seedlings emerge"),
    "leafless": gettext_lazy("When it is leafless"),
    "acceptable_height": gettext_lazy("Height from which a seedling counts"),
    "uses": gettext_lazy("Good for"),
    "roles": gettext_lazy("Role in a planting"),
}

FACT_GROUPS: dict[str, FactGroup] = {
    key: FactGroup(key, label, tuple(kind for kind in CATALOGUE.values() if kind.key.startswith(key)))
    for key, label in _LABELS.items()
}

# The traits of each tolerance, from the lowest point to the highest.
RISING: tuple[tuple[str, ...], ...] = tuple(
    tuple(key for key in keys if key) for _name, _fact, keys in NUMBERS
)


def group_of(trait: str) -> FactGroup:
    """The group a trait is stated in."""
    return next(group for group in FACT_GROUPS.values() if trait in {kind.key for kind in group.traits})


def unbelievable(kind: Trait, value: Decimal) -> str:
    """Say why a number cannot be meant, in words that say what to write; nothing where it can."""
    if Decimal(str(kind.lowest)) <= value <= Decimal(str(kind.highest)):
        if value == value.quantize(Decimal("0.001")):
            return ""
        return _("%(value)s is finer than three decimal places; round it.") % {"value": plain_number(value)}
    words = {
        "value": _with_unit(value, kind), "lowest": f"{kind.lowest:,g}".replace(",", "\u202f"),
        "highest": f"{kind.highest:,g}".replace(",", "\u202f"),
    }  # fmt: skip
    return _("%(value)s: write a number from %(lowest)s to %(highest)s.") % words


def _with_unit(value: Decimal, kind: Trait) -> str:
    text = plain_number(value)
    return f"pH {text}" if kind.unit == "pH" else f"{text} {kind.unit}"


def out_of_order(facts: Mapping[str, Decimal]) -> list[tuple[str, str]]:
    """Pairs of traits of one tolerance whose points fall where they should rise.

    >>> out_of_order({"rain_lowest_mm": Decimal(700), "rain_optimum_from_mm": Decimal(600)})
    [('rain_lowest_mm', 'rain_optimum_from_mm')]
    """
    pairs = []
    for keys in RISING:
        given = [key for key in keys if key in facts]
        pairs += [(a, b) for a, b in pairwise(given) if facts[a] > facts[b]]
    return pairs


def order_words(pair: tuple[str, str], facts: Mapping[str, Decimal]) -> str:
    """Name both points that are out of order, each with its number."""
    low, high = (CATALOGUE[key] for key in pair)
    words = {
        "low": low.label, "low_value": _with_unit(facts[pair[0]], low),
        "high": high.label, "high_value": _with_unit(facts[pair[1]], high),
    }  # fmt: skip
    return (
        _("“%(low)s” (%(low_value)s) must not lie above “%(high)s” (%(high_value)s). Change one of the two.")
        % words
    )

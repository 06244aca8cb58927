"""The traits the reference table may hold: key, words, unit and what a believable value looks like.

A range tolerance is four points of a trapezoid: nothing grows beyond the lowest and highest value, and all is
well between the two ends of the optimum. A one-sided tolerance (cold, heat, drought, salt) has two points.
A trait nobody knows is a missing row; no default stands in for it.
"""

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext_lazy as _

FROM_MEMORY = "from memory, check locally"

TEXTURES = {"coarse": _("sandy"), "medium": _("loamy"), "fine": _("clayey")}
DRAINAGES = {
    "free": _("freely drained"),
    "moderate": _("moderately drained"),
    "poor": _("poorly drained"),
    "flooded": _("flooded for weeks"),
}
LIGHTS = {"full_sun": _("full sun"), "part_shade": _("part shade"), "shade": _("shade")}

USES = {
    "soil": _("holding soil"),
    "water": _("keeping water clean and banks firm"),
    "wildlife": _("wildlife"),
    "timber": _("timber"),
    "firewood": _("firewood"),
    "fruit": _("fruit and nuts"),
    "fodder": _("fodder"),
    "honey": _("bees and honey"),
    "shelter": _("shelter and shade"),
    "other_products": _("cork, resin, medicine and other products"),
}
ROLES = {
    "nurse": _("nurse tree: shelters others while they are young"),
    "pioneer": _("pioneer: first on open ground"),
    "main": _("main tree of the later canopy"),
    "understorey": _("understorey"),
    "hedge": _("hedge"),
    "bank": _("river bank"),
}

UNITS = {"mm/year": _("mm/year"), "months": _("months"), "seeds/kg": _("seeds/kg")}  # the others are symbols


@dataclass(frozen=True, slots=True)
class Trait:
    """One kind of fact about a species.

    Attributes
    ----------
    key : str
        Permanent name used in files and by calculations.
    label : str
        What a person reads (translated when shown).
    unit : str
        Unit of a number; empty for words.
    lowest, highest : float
        Limits of a believable number, both allowed. Outside them a value is a slip of the pen.
    words : dict or None
        For traits told in words: the allowed words and how each is shown; several may hold at once.
    """

    key: str
    label: Any
    unit: str = ""
    lowest: float = 0.0
    highest: float = 0.0
    words: dict[str, Any] | None = None

    @property
    def group(self) -> str:
        """Key of the heading this trait stands under."""
        return next(group for group, stems in GROUP_STEMS.items() if self.key.startswith(stems))


GROUPS = {
    "climate": _("Climate and altitude"),
    "ground": _("Soil and light"),
    "plant": _("Seed and seedling"),
    "purpose": _("What it is good for"),
}
GROUP_STEMS = {
    "climate": ("rain_", "coldest_", "hottest_", "dry_", "altitude_"),
    "ground": ("soil_", "salinity_", "light"),
    "plant": ("seeds_", "emergence_", "leafless_", "acceptable_"),
    "purpose": ("uses", "roles"),
}


def _range(stem: str, unit_tail: str, unit: str, labels: tuple, lowest: float, highest: float) -> list[Trait]:
    tail = f"_{unit_tail}" if unit_tail else ""
    points = ("lowest", "optimum_from", "optimum_to", "highest")
    return [
        Trait(f"{stem}_{point}{tail}", label, unit, lowest, highest)
        for point, label in zip(points, labels, strict=True)
    ]


_ALL = [
    *_range(
        "rain",
        "mm",
        "mm/year",
        (
            _("Rain in a year, lowest"),
            _("Rain in a year, optimum from"),
            _("Rain in a year, optimum to"),
            _("Rain in a year, highest"),
        ),
        0,
        12000,
    ),
    Trait("coldest_month_lowest_c", _("Mean daily minimum of the coldest month, lowest"), "°C", -60, 30),
    Trait(
        "coldest_month_optimum_from_c",
        _("Mean daily minimum of the coldest month, optimum from"),
        "°C",
        -60,
        30,
    ),
    Trait(
        "hottest_month_optimum_to_c", _("Mean daily maximum of the hottest month, optimum to"), "°C", 0, 55
    ),
    Trait("hottest_month_highest_c", _("Mean daily maximum of the hottest month, highest"), "°C", 0, 55),
    Trait("dry_months_optimum_to", _("Dry months in a year, optimum to"), "months", 0, 12),
    Trait("dry_months_highest", _("Dry months in a year, highest"), "months", 0, 12),
    *_range(
        "altitude",
        "m",
        "m",
        (
            _("Altitude, lowest"),
            _("Altitude, optimum from"),
            _("Altitude, optimum to"),
            _("Altitude, highest"),
        ),
        -450,
        5500,
    ),
    *_range(
        "soil_ph",
        "",
        "pH",
        (
            _("Soil reaction, lowest"),
            _("Soil reaction, optimum from"),
            _("Soil reaction, optimum to"),
            _("Soil reaction, highest"),
        ),
        2.5,
        10.5,
    ),
    Trait("soil_textures", _("Soil texture"), words=TEXTURES),
    Trait("soil_drainage", _("Soil drainage"), words=DRAINAGES),
    Trait("soil_depth_lowest_cm", _("Rooting depth, lowest"), "cm", 0, 500),
    Trait("soil_depth_optimum_from_cm", _("Rooting depth, optimum from"), "cm", 0, 500),
    Trait("salinity_optimum_to_ds_per_m", _("Soil salinity (saturated paste), optimum to"), "dS/m", 0, 60),
    Trait("salinity_highest_ds_per_m", _("Soil salinity (saturated paste), highest"), "dS/m", 0, 60),
    Trait("light", _("Light when young"), words=LIGHTS),
    Trait("seeds_per_kg", _("Seeds in a kilogram"), "seeds/kg", 1, 100_000_000),
    Trait("emergence_from_month", _("Seedlings emerge, from month"), "month", 1, 12),
    Trait("emergence_to_month", _("Seedlings emerge, to month"), "month", 1, 12),
    Trait("leafless_from_month", _("Leafless, from month"), "month", 1, 12),
    Trait("leafless_to_month", _("Leafless, to month"), "month", 1, 12),
    Trait("acceptable_height_cm", _("Height from which a seedling counts towards stocking"), "cm", 1, 500),
    Trait("uses", _("Good for"), words=USES),
    Trait("roles", _("Role in a planting"), words=ROLES),
]

CATALOGUE: dict[str, Trait] = {trait.key: trait for trait in _ALL}

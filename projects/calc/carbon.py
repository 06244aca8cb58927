"""Carbon in living trees as a range of default values: never a promise, never a credit.

The steps are those of the IPCC Guidelines for National Greenhouse Gas Inventories, Volume 4, Chapter 4 (2006, and
the 2019 Refinement): growth above ground, roots by a ratio, carbon by a fraction, carbon dioxide by the ratio of the
molecules' weights. The growth and root ratios in `ZONES` are written from memory of the chapter's tables, drawn
together over continents to their outer ends; they have to be checked against the tables before use.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from projects.calc.benefits import Range

CARBON_FRACTION = 0.47  # t of carbon in a t of dry matter; IPCC default
CO2_PER_CARBON = 44 / 12  # ratio of the molecules' weights
YOUNG_UNTIL_YEAR = 20  # the tables part stands at this age
NATURAL, PLANTED = "natural", "planted"


@dataclass(frozen=True, slots=True)
class Growth:
    """Above-ground growth of dry matter, up to 20 years and after. [t/ha/year]"""

    young: Range
    older: Range


@dataclass(frozen=True, slots=True)
class Zone:
    """Default growth of natural and of planted forest in one ecological zone, and its roots. [share of shoots]"""

    natural: Growth
    planted: Growth
    roots: Range


def _zone(
    natural_young: tuple[float, float],
    natural_older: tuple[float, float],
    planted: tuple[float, float],
    roots: tuple[float, float],
) -> Zone:
    """The tables' planted forest is told by species and place rather than by age: one range for both ages."""
    return Zone(
        Growth(Range(*natural_young), Range(*natural_older)),
        Growth(Range(*planted), Range(*planted)),
        Range(*roots),
    )


# From memory of IPCC 2006/2019 Vol. 4 Ch. 4 tables; check before use.
ZONES = {
    "tropical_rain": _zone((3.0, 13.0), (0.9, 5.5), (2.0, 40.0), (0.20, 0.37)),
    "tropical_moist": _zone((5.0, 11.0), (1.0, 3.0), (3.0, 25.0), (0.09, 0.33)),
    "tropical_dry": _zone((2.3, 7.0), (0.6, 3.0), (2.0, 30.0), (0.27, 0.68)),
    "tropical_shrub": _zone((0.2, 5.0), (0.2, 1.6), (0.5, 20.0), (0.27, 0.71)),
    "tropical_mountain": _zone((1.0, 12.0), (0.4, 3.0), (1.0, 18.0), (0.20, 0.33)),
    "subtropical_humid": _zone((7.0, 11.0), (1.0, 3.0), (3.0, 32.0), (0.09, 0.33)),
    "subtropical_dry": _zone((2.3, 7.0), (0.6, 3.0), (2.0, 30.0), (0.27, 0.68)),
    "subtropical_steppe": _zone((0.8, 5.0), (0.2, 1.6), (0.5, 20.0), (0.26, 0.71)),
    "subtropical_mountain": _zone((1.0, 12.0), (0.4, 3.0), (1.0, 18.0), (0.20, 0.71)),
    "temperate_oceanic": _zone((1.2, 15.0), (1.2, 15.0), (2.0, 15.0), (0.12, 0.93)),
    "temperate_continental": _zone((0.5, 8.0), (0.5, 7.5), (0.5, 8.0), (0.12, 0.93)),
    "temperate_mountain": _zone((0.5, 6.0), (0.5, 6.0), (0.5, 6.0), (0.12, 0.93)),
    "boreal_coniferous": _zone((0.1, 2.1), (0.1, 2.1), (0.1, 2.1), (0.15, 0.96)),
    "boreal_tundra": _zone((0.2, 0.5), (0.2, 0.5), (0.2, 0.5), (0.15, 0.96)),
    "boreal_mountain": _zone((1.0, 1.1), (1.1, 1.5), (1.0, 1.5), (0.15, 0.96)),
}


def co2_of_carbon(carbon_t: float) -> float:
    """Carbon dioxide that holds an amount of carbon. [t]

    >>> round(co2_of_carbon(1.0), 3)
    3.667
    """
    return carbon_t * CO2_PER_CARBON


@dataclass(frozen=True, slots=True)
class CarbonRange:
    """What trees may hold after some years. [t, whole ground]

    Attributes
    ----------
    dry_matter : above ground.
    with_roots : above and below ground.
    carbon, co2 : in that dry matter.
    """

    dry_matter: Range
    with_roots: Range
    carbon: Range
    co2: Range


def carbon_range(
    growth: Growth,
    roots: Range,
    years: int,
    area_ha: float,
    stocked_share: Range,
    *,
    carbon_fraction: float = CARBON_FRACTION,
) -> CarbonRange:
    """Range of the carbon dioxide held in living trees after some years of growth.

    Every low end meets every other low end, and every high end every other: the widest range the inputs allow.

    Parameters
    ----------
    growth : above ground, young and older. [t dry matter/ha/year]
    roots : below-ground for each tonne above ground. [share]
    years : after planting.
    area_ha : net area. [ha]
    stocked_share : share of the wanted stocking that is expected to live, from 0 to 1.
    carbon_fraction : carbon in dry matter. [share]

    Raises
    ------
    ValueError
        If years or area are below 0, a share lies outside 0..1, or a range runs backwards.

    Notes
    -----
    Nothing is taken off for fire, drought, felling or thinning, for what grew there before or would have grown
    without planting; soil and litter are not in it.

    Examples
    --------
    Two hectares fully stocked for ten years at 4 to 8 t/ha/year with roots of a quarter:

    >>> found = carbon_range(Growth(Range(4, 8), Range(2, 3)), Range(0.25, 0.25), 10, 2, Range(1, 1))
    >>> found.dry_matter, found.with_roots
    (Range(low=80.0, high=160.0), Range(low=100.0, high=200.0))
    >>> round(found.carbon.low, 1), round(found.co2.low, 2)
    (47.0, 172.33)
    """
    _check(growth, roots, years, area_ha, stocked_share, carbon_fraction)
    young, older = min(years, YOUNG_UNTIL_YEAR), max(years - YOUNG_UNTIL_YEAR, 0)

    def grown(young_t: float, older_t: float, share: float) -> float:
        return float((young_t * young + older_t * older) * area_ha * share)

    low = grown(growth.young.low, growth.older.low, stocked_share.low)
    high = grown(growth.young.high, growth.older.high, stocked_share.high)
    shoots = Range(low, high)
    whole = Range(low * (1 + roots.low), high * (1 + roots.high))
    carbon = Range(whole.low * carbon_fraction, whole.high * carbon_fraction)
    return CarbonRange(shoots, whole, carbon, Range(co2_of_carbon(carbon.low), co2_of_carbon(carbon.high)))


def rounded_outward(found: Range, digits: int = 2) -> Range:
    """A range to so many leading digits, its low end rounded down and its high end up.

    >>> rounded_outward(Range(325.4, 11_614.0)), rounded_outward(Range(0.0, 0.031))
    (Range(low=320.0, high=12000.0), Range(low=0.0, high=0.031))
    """
    return Range(_leading(found.low, digits, math.floor), _leading(found.high, digits, math.ceil))


def _leading(value: float, digits: int, rounding: Callable[[float], int]) -> float:
    if value <= 0:
        return 0.0
    places = digits - 1 - math.floor(math.log10(value))
    step = 10.0**-places
    return round(rounding(round(value / step, 9)) * step, max(places, 0))


def _check(
    growth: Growth, roots: Range, years: int, area_ha: float, stocked: Range, carbon_fraction: float
) -> None:
    if years < 0 or area_ha < 0:
        raise ValueError("years and area are not below 0.")
    for each in (growth.young, growth.older, roots, stocked):
        if not 0 <= each.low <= each.high:
            raise ValueError("a range runs from its low end up to its high end, and not below 0.")
    if stocked.high > 1 or not 0 < carbon_fraction <= 1:
        raise ValueError("a share lies from 0 to 1.")


def stocked_share(living: Range, area_ha: float, wanted_per_ha: float) -> Range:
    """Share of the wanted living trees that is expected, never more than 1.

    Raises
    ------
    ValueError
        If area or the wanted stocking is not above 0.

    Examples
    --------
    >>> stocked_share(Range(500, 2600), 2.0, 1000)
    Range(low=0.25, high=1.0)
    """
    if area_ha <= 0 or wanted_per_ha <= 0:
        raise ValueError("area and wanted stocking lie above 0.")
    wanted = area_ha * wanted_per_ha
    return Range(min(living.low / wanted, 1.0), min(living.high / wanted, 1.0))

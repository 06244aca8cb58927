"""What a plan costs, block by block and season by season: plants to order, and days of planting."""

import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PlannedPlants:
    """Plants of one line of a mix. `price_minor` is of one plant, None where nobody gave it. [minor units]"""

    block: Hashable
    season: Hashable
    to_plant: int
    to_order: int
    price_minor: int | None
    currency: str


@dataclass(frozen=True, slots=True)
class PlantCost:
    """What the plants of one block and season cost in one currency. [minor units]"""

    block: Hashable
    season: Hashable
    currency: str
    minor: int
    plants: int


@dataclass(frozen=True, slots=True)
class LabourCost:
    """What planting one block in one season takes. `person_days` are whole ones. [minor units]"""

    block: Hashable
    season: Hashable
    person_days: int
    minor: int
    plants: int


def plant_costs(plants: Iterable[PlannedPlants]) -> list[PlantCost]:
    """Plants at their price, one sum for each block, season and currency; lines without a price are left out.

    Examples
    --------
    >>> plant_costs([PlannedPlants("a", 1, 90, 100, 50, "EUR"), PlannedPlants("a", 1, 10, 11, None, "EUR")])
    [PlantCost(block='a', season=1, currency='EUR', minor=5000, plants=100)]
    """
    sums: dict[tuple[Hashable, Hashable, str], tuple[int, int]] = {}
    for line in plants:
        if line.price_minor is None:
            continue
        key = (line.block, line.season, line.currency)
        minor, number = sums.get(key, (0, 0))
        sums[key] = (minor + line.to_order * line.price_minor, number + line.to_order)
    return [PlantCost(*key, minor, number) for key, (minor, number) in sums.items()]


def labour_costs(
    plants: Iterable[PlannedPlants], trees_per_person_day: int, day_cost_minor: int
) -> list[LabourCost]:
    """Planting at the cost of one person for a day, one sum for each block and season.

    Person-days are rounded up to whole ones in each block, since a crew is paid for the day it walks out.

    Raises
    ------
    ValueError
        If a person plants nothing in a day, or a day costs less than nothing.

    Examples
    --------
    >>> labour_costs([PlannedPlants("a", 1, 1030, 1100, 50, "EUR")], 100, 9000)
    [LabourCost(block='a', season=1, person_days=11, minor=99000, plants=1030)]
    """
    if trees_per_person_day < 1 or day_cost_minor < 0:
        raise ValueError("a person plants at least one tree in a day, and a day costs nothing or more.")
    sums: dict[tuple[Hashable, Hashable], int] = {}
    for line in plants:
        key = (line.block, line.season)
        sums[key] = sums.get(key, 0) + line.to_plant
    found = []
    for (block, season), number in sums.items():
        days = math.ceil(number / trees_per_person_day)
        found.append(LabourCost(block, season, days, days * day_cost_minor, number))
    return found

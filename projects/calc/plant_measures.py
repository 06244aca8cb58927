"""What measured plants of a sample are like: sturdiness with its spread, Dickson's index of dried ones."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from projects.calc.stock_handling import dickson_quality, sturdiness


@dataclass(frozen=True, slots=True)
class Spread:
    """Middle and spread of measured plants.

    Attributes
    ----------
    n : plants measured.
    mean, median : of the measures.
    deviation : standard deviation (n − 1); None of one plant.
    lowest, lower_quarter, upper_quarter, highest : how far they lie apart.
    """

    n: int
    mean: float
    median: float
    deviation: float | None
    lowest: float
    lower_quarter: float
    upper_quarter: float
    highest: float


def spread(measures: Sequence[float]) -> Spread:
    """Return middle and spread; quarters are interpolated between the measures in order, both ends counted.

    Raises
    ------
    ValueError
        If there is none, or one is no number above 0.

    Examples
    --------
    >>> found = spread([20.0, 30.0, 25.0, 45.0])
    >>> found.mean, found.median, found.lower_quarter, round(found.deviation, 2)
    (30.0, 27.5, 23.75, 10.8)
    """
    if not measures or not all(one > 0 and math.isfinite(one) for one in measures):
        raise ValueError("Measures are numbers above 0, at least one.")
    quarters = (
        statistics.quantiles(measures, n=4, method="inclusive") if len(measures) > 1 else [*measures] * 3
    )
    return Spread(
        n=len(measures),
        mean=statistics.fmean(measures),
        median=quarters[1],
        deviation=statistics.stdev(measures) if len(measures) > 1 else None,
        lowest=min(measures),
        lower_quarter=quarters[0],
        upper_quarter=quarters[2],
        highest=max(measures),
    )


def sturdiness_spread(heights_cm: Sequence[float], collars_mm: Sequence[float]) -> Spread:
    """Return middle and spread of height over root-collar diameter, plant by plant. [cm/mm]

    Raises
    ------
    ValueError
        If the lists differ in length: each plant has a height and a diameter, in the same place.

    Examples
    --------
    >>> sturdiness_spread([30, 40], [5, 5]).mean
    7.0
    """
    if len(heights_cm) != len(collars_mm):
        raise ValueError("Each plant has a height and a diameter, in the same order.")
    return spread([sturdiness(h, d) for h, d in zip(heights_cm, collars_mm, strict=True)])


def dickson_of_sample(
    heights_cm: Sequence[float], collars_mm: Sequence[float], shoot_g: float, root_g: float
) -> float:
    """Dickson quality index of a sample: from its mean height and diameter and its mean dry masses of one plant.

    Compare within one species and age only (Dickson, Leaf and Hosner 1960, from memory). Drying kills the plants.

    Raises
    ------
    ValueError
        If nothing was measured, or a mass is not above 0.

    Examples
    --------
    >>> round(dickson_of_sample([28, 32], [5, 5], 3.5, 1.5), 3)
    0.6
    """
    height, collar = spread(heights_cm).mean, spread(collars_mm).mean
    return dickson_quality(shoot_g + root_g, height, collar, shoot_g, root_g)

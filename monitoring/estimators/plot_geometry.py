"""Plots on the ground: radius, area, multiplier, trees in them, slope, and which shape suits a planting.

A plot is measured on the map: distances are horizontal. Slope is in per cent (rise over horizontal run × 100).
"""

import math
from dataclasses import dataclass

SQUARE_METRES_PER_HECTARE = 10_000
CIRCLE, ROW, CENSUS = "circle", "row", "whole_block"
FEWEST_TREES_IN_CIRCLE = 8  # common practice: below it most circles say little
TREES_WISHED = 20  # common practice: 15 to 25 planted trees to a plot
MOST_TREES_FOR_CENSUS = 100  # common practice: five plots of twenty would hold them all


def circle_area_m2(radius_m: float) -> float:
    """Area of a circular plot. [m2]

    Examples
    --------
    >>> round(circle_area_m2(3.99), 2), round(circle_area_m2(5.64), 2)
    (50.01, 99.93)
    """
    _above_zero(radius_m=radius_m)
    return math.pi * radius_m**2


def circle_radius_m(area_m2: float) -> float:
    """Radius of a circular plot of an area. [m]

    Examples
    --------
    >>> round(circle_radius_m(400), 2)
    11.28
    """
    _above_zero(area_m2=area_m2)
    return math.sqrt(area_m2 / math.pi)


def per_ha_multiplier(area_m2: float) -> float:
    """What a count in a plot is multiplied by to be per hectare.

    Examples
    --------
    >>> per_ha_multiplier(10 * 25)
    40.0
    """
    _above_zero(area_m2=area_m2)
    return SQUARE_METRES_PER_HECTARE / area_m2


def expected_trees(density_per_ha: float, area_m2: float) -> float:
    """Planted trees a plot holds on average. [trees]

    Examples
    --------
    >>> round(expected_trees(2500, circle_area_m2(8)), 2)
    50.27
    """
    return density_per_ha / per_ha_multiplier(area_m2)


def radius_for(trees_per_plot: float, density_per_ha: float) -> float:
    """Radius of the circle that holds a number of trees on average. [m]

    Examples
    --------
    >>> round(radius_for(20, 2500), 2)
    5.05
    """
    _above_zero(trees_per_plot=trees_per_plot, density_per_ha=density_per_ha)
    return circle_radius_m(trees_per_plot / density_per_ha * SQUARE_METRES_PER_HECTARE)


def to_plant_per_ha(target_per_ha: float, mean_regenerants: float, area_m2: float) -> float:
    """Trees still to plant where natural seedlings already stand, never below 0. [per ha]

    Examples
    --------
    >>> round(to_plant_per_ha(3100, 9.4, circle_area_m2(5)))
    1903
    """
    return max(0.0, target_per_ha - mean_regenerants * per_ha_multiplier(area_m2))


def slope_secant(slope_percent: float) -> float:
    """Length along the slope for one metre on the map, √(1 + (slope/100)²).

    Examples
    --------
    >>> round(slope_secant(50), 4)
    1.118
    """
    if not (slope_percent >= 0 and math.isfinite(slope_percent)):
        raise ValueError("slope_percent must not be below 0.")
    return math.hypot(1, slope_percent / 100)


def horizontal_m(distance_on_slope_m: float, slope_percent: float) -> float:
    """Distance on the map of a distance measured straight up or down the slope. [m]"""
    return distance_on_slope_m / slope_secant(slope_percent)


def on_slope_m(horizontal_distance_m: float, slope_percent: float) -> float:
    """Distance straight up or down the slope of a distance on the map. [m]

    Examples
    --------
    >>> round(on_slope_m(3.99, 40), 3)
    4.297
    """
    return horizontal_distance_m * slope_secant(slope_percent)


def radius_on_slope_m(radius_m: float, slope_percent: float) -> float:
    """Radius of the circle to lay on the slope so that it covers the map area of a level plot. [m]

    r √sec, not r sec: only the side up and down the slope is stretched, so the area grows by sec and the radius by
    its root.

    Examples
    --------
    >>> round(radius_on_slope_m(3.99, 40), 3)
    4.141
    """
    return radius_m * math.sqrt(slope_secant(slope_percent))


def density_factor_of_slope(slope_percent: float) -> float:
    """What a density comes out as, of the true one, where plots are laid on the slope uncorrected.

    Examples
    --------
    >>> round(density_factor_of_slope(50), 3)
    0.894
    """
    return 1 / slope_secant(slope_percent)


def density_factor_of_radius(radius_error_share: float) -> float:
    """What a density comes out as, of the true one, where the radius is measured too long (+) or short (−).

    Examples
    --------
    >>> round(density_factor_of_radius(0.05), 4)
    1.1025
    """
    return (1 + radius_error_share) ** 2


def row_length_m(spots: int, in_row_spacing_m: float) -> float:
    """Length of row that a number of planting spots stands for, half a spacing beyond each end. [m]

    Examples
    --------
    >>> row_length_m(20, 1.5)
    30.0
    """
    _above_zero(spots=spots, in_row_spacing_m=in_row_spacing_m)
    return spots * in_row_spacing_m


def row_area_m2(spots: int, in_row_spacing_m: float, row_spacing_m: float) -> float:
    """Ground that a row of spots stands for, with half the way to the rows beside it. [m2]

    Examples
    --------
    >>> row_area_m2(20, 1.5, 2.0)
    60.0
    """
    _above_zero(row_spacing_m=row_spacing_m)
    return row_length_m(spots, in_row_spacing_m) * row_spacing_m


def plots_a_block_holds(area_ha: float, plot_area_m2: float) -> int:
    """Plots that would cover a block, for the finite-population correction; at least 1. [plots]

    Examples
    --------
    >>> plots_a_block_holds(1.5, circle_area_m2(5.64))
    150
    """
    _above_zero(area_ha=area_ha, plot_area_m2=plot_area_m2)
    return max(1, int(area_ha * SQUARE_METRES_PER_HECTARE / plot_area_m2))


@dataclass(frozen=True, slots=True)
class ShapeAdvice:
    """Which shape suits a planting.

    Attributes
    ----------
    shape : `circle`, `row` of planting spots, or `whole_block` (count them all).
    trees_in_circle : planted trees the circle asked about would hold on average. [trees]
    radius_for_twenty_m : radius that would hold `TREES_WISHED`. [m]
    trees_in_block : planted trees of the whole block. [trees]
    """

    shape: str
    trees_in_circle: float
    radius_for_twenty_m: float
    trees_in_block: float


def shape_advice(density_per_ha: float, area_ha: float, radius_m: float) -> ShapeAdvice:
    """Advise a circle, a row or a whole count.

    Parameters
    ----------
    density_per_ha : planted trees. [per ha]
    area_ha : net area of the block. [ha]
    radius_m : radius of the circle that is thought of. [m]

    Notes
    -----
    A block that holds no more trees than five plots of twenty is counted whole. A circle that would hold fewer
    than about 8 trees gives way to a row of consecutive spots (hedges, riverside strips, large stock). All three
    numbers are common practice.

    Examples
    --------
    >>> [shape_advice(*asked).shape for asked in ((2500, 4, 5.64), (300, 4, 5.64), (300, 0.2, 5.64))]
    ['circle', 'row', 'whole_block']
    """
    _above_zero(density_per_ha=density_per_ha, area_ha=area_ha)
    inside = expected_trees(density_per_ha, circle_area_m2(radius_m))
    held = density_per_ha * area_ha
    shape = CENSUS if held <= MOST_TREES_FOR_CENSUS else ROW if inside < FEWEST_TREES_IN_CIRCLE else CIRCLE
    return ShapeAdvice(shape, inside, radius_for(TREES_WISHED, density_per_ha), held)


def _above_zero(**lengths: float) -> None:
    for name, length in lengths.items():
        if not (length > 0 and math.isfinite(length)):
            raise ValueError(f"{name} must be a number above 0, got {length}.")

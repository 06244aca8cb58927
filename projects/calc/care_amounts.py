"""What a young tree is given after planting: water, mulch, amendment, nutrients, a fence or a guard each.

Amounts are guides from stated rules, never instructions; a soil test, the ground itself and a competent person
come first. Every rule of thumb is an editable default with its source beside it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

LITRES_PER_US_GALLON, CM_PER_INCH = 3.785411784, 2.54
PHOSPHORUS, POTASSIUM, OXYGEN = 30.974, 39.098, 15.999  # standard atomic masses (IUPAC)
P_OF_P2O5 = 2 * PHOSPHORUS / (2 * PHOSPHORUS + 5 * OXYGEN)
K_OF_K2O = 2 * POTASSIUM / (2 * POTASSIUM + OXYGEN)


def _not_negative(**amounts: float) -> None:
    for name, amount in amounts.items():
        if not (amount >= 0 and math.isfinite(amount)):
            raise ValueError(f"{name} must be a number not below 0, got {amount}.")


def _above_zero(**amounts: float) -> None:
    for name, amount in amounts.items():
        if not (amount > 0 and math.isfinite(amount)):
            raise ValueError(f"{name} must be a number above 0, got {amount}.")


@dataclass(frozen=True, slots=True)
class WateringRule:
    """A rule of thumb for watering by trunk calliper.

    Attributes
    ----------
    least, most : litres per cm of calliper, each time. [L/cm]
    days : days from one watering to the next.
    source : who says so.
    """

    least: float
    most: float
    days: int
    source: str

    def litres(self, calliper_cm: float) -> tuple[float, float]:
        """Least and most water at a time for a trunk. [L]

        >>> [round(litres) for litres in WATERING_RULES[2].litres(4)]
        [30, 45]
        """
        _not_negative(calliper_cm=calliper_cm)
        return self.least * calliper_cm, self.most * calliper_cm


def watering_litres_per_cm(gallons_per_inch: float) -> float:
    """US gallons per inch of calliper as litres per centimetre.

    >>> [round(watering_litres_per_cm(gallons), 2) for gallons in (1.5, 10)]
    [2.24, 14.9]
    """
    _not_negative(gallons_per_inch=gallons_per_inch)
    return gallons_per_inch * LITRES_PER_US_GALLON / CM_PER_INCH


def _rule(least: float, most: float, days: int, source: str) -> WateringRule:
    return WateringRule(watering_litres_per_cm(least), watering_litres_per_cm(most), days, source)


# They disagree by half as much again to twice as much: show them side by side, not their mean.
WATERING_RULES = (
    _rule(1.5, 1.5, 1, "Cooperative Extension pages, first two weeks"),
    _rule(10, 10, 7, "Cooperative Extension pages, weekly"),
    _rule(5, 7.5, 7, "Georgia Forestry Commission, weekly"),
)


def days_between_waterings(readily_available_mm: float, eto_mm: float, crop_factor: float = 0.5) -> float:
    """Days without rain until the readily available water is used up; infinite where nothing is used. [d]

    Parameters
    ----------
    readily_available_mm : FAO-56 eq. 83, `soil_water.readily_available_mm`.
    eto_mm : reference evapotranspiration. [mm/d]
    crop_factor : use of a young tree over the reference crop; 0.5 common practice.

    Raises
    ------
    ValueError
        If an amount is negative or no number.

    Examples
    --------
    >>> days_between_waterings(22.5, 5, 0.5)
    9.0
    """
    _not_negative(readily_available_mm=readily_available_mm, eto_mm=eto_mm, crop_factor=crop_factor)
    use = eto_mm * crop_factor
    return readily_available_mm / use if use > 0 else math.inf


def litres_of_depth(depth_mm: float, wetted_diameter_m: float) -> float:
    """Water for a depth over the round patch a tree roots in; 1 mm on 1 m² is 1 L. [L]

    >>> round(litres_of_depth(22.5, 0.6), 1)
    6.4
    """
    _not_negative(depth_mm=depth_mm, wetted_diameter_m=wetted_diameter_m)
    return depth_mm * math.pi / 4 * wetted_diameter_m**2


def watering_depths(
    rain_mm: Sequence[float], use_mm: Sequence[float], readily_available_mm: float
) -> list[float]:
    """Depth to give on each day so that a tree never has to draw on water it cannot reach easily. [mm]

    The soil starts full. Rain beyond what fills it is lost; once what was used reaches the readily available
    part, it is filled again at the day's end.

    Parameters
    ----------
    rain_mm, use_mm : (n_days,) effective rain and the tree's own evapotranspiration.
    readily_available_mm : above 0.

    Raises
    ------
    ValueError
        If the two differ in length, or an amount is negative or no number.

    References
    ----------
    FAO-56 eq. 85, without runoff, capillary rise or deep losses beyond a full soil.

    Examples
    --------
    >>> watering_depths([0, 0, 0, 4, 0], [5, 5, 5, 5, 5], 10)
    [0.0, 10.0, 0.0, 0.0, 11.0]
    """
    if len(rain_mm) != len(use_mm):
        raise ValueError("rain and use must be of one length.")
    _above_zero(readily_available_mm=readily_available_mm)
    used, given = 0.0, []
    for rain, use in zip(rain_mm, use_mm, strict=True):
        _not_negative(rain_mm=rain, use_mm=use)
        used = max(used - rain, 0.0) + use
        given.append(used if used >= readily_available_mm else 0.0)
        used = 0.0 if given[-1] else used
    return [float(depth) for depth in given]


def pit_m3(diameter_m: float, depth_m: float) -> float:
    """Volume of a round planting pit. [m³]

    >>> round(pit_m3(1.8, 0.39), 3)
    0.992
    """
    _not_negative(diameter_m=diameter_m, depth_m=depth_m)
    return math.pi / 4 * diameter_m**2 * depth_m


def amendment_cap_litres(pit_volume_m3: float, ball_litres: float, cap: float = 0.2) -> float:
    """Most organic matter to mix into the backfill; the default of none stands before it. [L]

    The cap of 10 to 20 % is common practice and editable.

    >>> round(amendment_cap_litres(0.9924, 73.5, cap=0.25))
    230
    """
    _not_negative(pit_volume_m3=pit_volume_m3, ball_litres=ball_litres)
    if not 0 <= cap <= 1:
        raise ValueError("the cap must be a share from 0 to 1.")
    return max(pit_volume_m3 * 1000 - ball_litres, 0.0) * cap


def mulch_litres(diameter_m: float, depth_cm: float) -> float:
    """Mulch for a round patch, kept off the stem; 5 to 10 cm deep is common practice. [L]

    >>> round(mulch_litres(1.0, 7.5), 1)
    58.9
    """
    _not_negative(diameter_m=diameter_m, depth_cm=depth_cm)
    return math.pi / 4 * diameter_m**2 * depth_cm * 10


def elements_of_label(nitrogen: float, phosphate: float, potash: float) -> tuple[float, float, float]:
    """Elements N, P and K of what a label states as N, P₂O₅ and K₂O, in the label's own unit.

    >>> [round(element, 2) for element in elements_of_label(10, 20, 10)]
    [10, 8.73, 8.3]
    """
    _not_negative(nitrogen=nitrogen, phosphate=phosphate, potash=potash)
    return nitrogen, phosphate * P_OF_P2O5, potash * K_OF_K2O


def break_even_trees(perimeter_m: float, fence_per_m: float, guard_each: float) -> float:
    """Trees above which a fence costs less than a guard each; both prices in one unit of money.

    >>> break_even_trees(400, 12, 3.20)
    1500.0
    """
    _not_negative(perimeter_m=perimeter_m, fence_per_m=fence_per_m)
    _above_zero(guard_each=guard_each)
    return perimeter_m * fence_per_m / guard_each

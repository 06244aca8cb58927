"""Spacing and density: how many planting spots a pattern gives to a hectare or an acre."""

from __future__ import annotations

import math

SQUARE_METRES_PER_HECTARE = 10_000
SQUARE_FEET_PER_ACRE = 43_560
# An international acre in hectares: 4840 square yards of 0.9144 m.
HECTARES_PER_ACRE = 4840 * 0.9144**2 / 10_000
ROW_OF_TRIANGLE = math.sqrt(3) / 2


def _above_zero(**lengths: float) -> None:
    for name, length in lengths.items():
        if not (length > 0 and math.isfinite(length)):
            raise ValueError(f"{name} must be a number above 0, got {length}.")


def rectangular_per_ha(row_spacing_m: float, in_row_spacing_m: float) -> float:
    """Return planting spots per hectare of a square or rectangular pattern.

    Parameters
    ----------
    row_spacing_m, in_row_spacing_m : float
        Distance between rows and within the row, above 0. [m]

    Returns
    -------
    float
        Spots. [per ha]

    Raises
    ------
    ValueError
        If a distance is not above 0.

    Notes
    -----
    Nominal: edges, tracks and missed spots are not in it. The denominator of survival is what was planted.

    Examples
    --------
    >>> rectangular_per_ha(2.0, 2.0)
    2500.0
    >>> round(rectangular_per_ha(2, 3))
    1667
    """
    _above_zero(row_spacing_m=row_spacing_m, in_row_spacing_m=in_row_spacing_m)
    return SQUARE_METRES_PER_HECTARE / (row_spacing_m * in_row_spacing_m)


def triangular_per_ha(spacing_m: float) -> float:
    """Return planting spots per hectare of an equilateral triangular pattern. [per ha]

    Rows stand √3/2 of the spacing apart, so it holds 15.47 % more than a square of the same spacing.

    Examples
    --------
    >>> round(triangular_per_ha(2.0)), round(triangular_per_ha(3.0))
    (2887, 1283)
    """
    _above_zero(spacing_m=spacing_m)
    return rectangular_per_ha(spacing_m * ROW_OF_TRIANGLE, spacing_m)


def per_acre(row_spacing_ft: float, in_row_spacing_ft: float) -> float:
    """Return planting spots per acre of a rectangular pattern given in feet. [per acre]

    Examples
    --------
    >>> round(per_acre(6, 6)), round(per_acre(10, 12))
    (1210, 363)
    """
    _above_zero(row_spacing_ft=row_spacing_ft, in_row_spacing_ft=in_row_spacing_ft)
    return SQUARE_FEET_PER_ACRE / (row_spacing_ft * in_row_spacing_ft)


def per_ha_of_acre(spots_per_acre: float) -> float:
    """Turn a density per acre into one per hectare.

    Examples
    --------
    >>> round(per_ha_of_acre(300)), round(per_ha_of_acre(230))
    (741, 568)
    """
    return spots_per_acre / HECTARES_PER_ACRE


def square_spacing_m(spots_per_ha: float) -> float:
    """Return the square spacing that gives a density. [m]

    Examples
    --------
    >>> round(square_spacing_m(1100), 3)
    3.015
    """
    _above_zero(spots_per_ha=spots_per_ha)
    return math.sqrt(SQUARE_METRES_PER_HECTARE / spots_per_ha)


def pattern_per_ha(pattern: str, row_spacing_m: float | None, in_row_spacing_m: float | None) -> float | None:
    """Return the nominal density of a block's pattern, or None where spacing does not give one.

    Parameters
    ----------
    pattern : str
        "square", "triangle", "row" or "irregular".
    row_spacing_m, in_row_spacing_m : float or None
        As stored on the block. A triangle needs only the distance in the row. [m]

    Returns
    -------
    float or None
        Spots [per ha]; None for a single row, an irregular pattern, or missing distances.

    Examples
    --------
    >>> pattern_per_ha("square", 2.5, 2.0), pattern_per_ha("row", None, 0.5)
    (2000.0, None)
    """
    if pattern == "triangle" and in_row_spacing_m and not row_spacing_m:
        return triangular_per_ha(in_row_spacing_m)
    if pattern in ("square", "triangle") and row_spacing_m and in_row_spacing_m:
        return rectangular_per_ha(row_spacing_m, in_row_spacing_m)
    return None

"""Sun above the horizon: day length and radiation at the top of the atmosphere, by day of year and latitude.

Formulae of FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes and Smith 1998), chapter 3.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

SOLAR_CONSTANT = 0.0820  # MJ m⁻² min⁻¹, FAO-56


def inverse_distance(day_of_year: ArrayLike) -> Floats:
    """Inverse relative distance Earth to Sun (FAO-56 eq. 23); same shape as the days, 1 to 366.

    >>> round(float(inverse_distance(246)), 3)
    0.985
    """
    return 1 + 0.033 * np.cos(2 * np.pi * _days(day_of_year) / 365)


def declination_rad(day_of_year: ArrayLike) -> Floats:
    """Solar declination (FAO-56 eq. 24). [rad]

    >>> round(float(declination_rad(246)), 3)
    0.12
    """
    return 0.409 * np.sin(2 * np.pi * _days(day_of_year) / 365 - 1.39)


def sunset_angle_rad(day_of_year: ArrayLike, latitude_deg: ArrayLike) -> Floats:
    """Sunset hour angle (FAO-56 eq. 25): 0 in the polar night, π in the polar day. [rad]

    Raises
    ------
    ValueError
        If a latitude lies outside −90..90 or a day outside 1..366.
    """
    latitude = _latitude_rad(latitude_deg)
    return np.arccos(np.clip(-np.tan(latitude) * np.tan(declination_rad(day_of_year)), -1, 1))


def daylight_hours(day_of_year: ArrayLike, latitude_deg: ArrayLike) -> Floats:
    """Hours from sunrise to sunset (FAO-56 eq. 34). [h]

    >>> round(float(daylight_hours(246, -20)), 1)
    11.7
    """
    return 24 / np.pi * sunset_angle_rad(day_of_year, latitude_deg)


def extraterrestrial_radiation(day_of_year: ArrayLike, latitude_deg: ArrayLike) -> Floats:
    """Radiation on a level surface above the atmosphere, a whole day (FAO-56 eq. 21). [MJ m⁻² d⁻¹]

    >>> round(float(extraterrestrial_radiation(246, -20)), 1)
    32.2
    """
    latitude, angle = _latitude_rad(latitude_deg), sunset_angle_rad(day_of_year, latitude_deg)
    sun = declination_rad(day_of_year)
    path = angle * np.sin(latitude) * np.sin(sun) + np.cos(latitude) * np.cos(sun) * np.sin(angle)
    return 24 * 60 / np.pi * SOLAR_CONSTANT * inverse_distance(day_of_year) * np.maximum(path, 0)


def _days(day_of_year: ArrayLike) -> Floats:
    days = np.asarray(day_of_year, float)
    if not ((days >= 1) & (days <= 366)).all():
        raise ValueError("the day of the year must lie between 1 and 366.")
    return days


def _latitude_rad(latitude_deg: ArrayLike) -> Floats:
    latitude = np.asarray(latitude_deg, float)
    if not (np.abs(latitude) <= 90).all():
        raise ValueError("latitude must lie between -90 and 90 degrees.")
    # At the very pole the tangent overflows into a sign; a hair inside gives the same day.
    return np.radians(np.clip(latitude, -89.999, 89.999))

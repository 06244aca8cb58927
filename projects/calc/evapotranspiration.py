"""Reference evapotranspiration: Hargreaves from temperatures alone, Penman–Monteith where more is known.

Formulae and their numbers from FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes and Smith 1998).
Temperatures in °C, pressures in kPa, radiation in MJ m⁻² d⁻¹, wind in m/s, results in mm a day. Every
function works on numbers or arrays of one shape.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from projects.calc.sun import daylight_hours, extraterrestrial_radiation

Floats = NDArray[np.float64]

MM_PER_MJ = 0.408  # depth of water that one MJ m⁻² evaporates (FAO-56 table 3)
STEFAN_BOLTZMANN = 4.903e-9  # MJ K⁻⁴ m⁻² d⁻¹ (FAO-56 eq. 39)
ALBEDO = 0.23  # of the reference crop
DENSE_CLOUD = 0.3  # least share of clear-sky radiation (ASCE-EWRI 2005, from memory; FAO-56 speaks of 0.33)
KELVIN = 273.16  # as FAO-56 writes it


def saturation_pressure(temperature_c: ArrayLike) -> Floats:
    """Saturation vapour pressure (FAO-56 eq. 11). [kPa]

    >>> [round(float(saturation_pressure(t)), 3) for t in (15.0, 24.5)]
    [1.705, 3.075]
    """
    celsius = np.asarray(temperature_c, float)
    return 0.6108 * np.exp(17.27 * celsius / (celsius + 237.3))


def mean_saturation_pressure(tmin_c: ArrayLike, tmax_c: ArrayLike) -> Floats:
    """Mean of the saturation pressures at the two extremes (FAO-56 eq. 12). [kPa]"""
    return (saturation_pressure(tmin_c) + saturation_pressure(tmax_c)) / 2


def air_pressure(altitude_m: ArrayLike) -> Floats:
    """Air pressure at an altitude (FAO-56 eq. 7). [kPa]

    >>> round(float(air_pressure(1800)), 1)
    81.8
    """
    return 101.3 * ((293 - 0.0065 * np.asarray(altitude_m, float)) / 293) ** 5.26


def psychrometric_constant(pressure_kpa: ArrayLike) -> Floats:
    """Psychrometric constant (FAO-56 eq. 8). [kPa/°C]"""
    return 0.665e-3 * np.asarray(pressure_kpa, float)


def vapour_pressure_from_bulbs(
    dry_c: ArrayLike, wet_c: ArrayLike, pressure_kpa: ArrayLike, coefficient: float = 0.000662
) -> Floats:
    """Actual vapour pressure from a psychrometer (FAO-56 eq. 15, 16); the default is the ventilated kind. [kPa]"""
    lost = (
        coefficient * np.asarray(pressure_kpa, float) * (np.asarray(dry_c, float) - np.asarray(wet_c, float))
    )
    return saturation_pressure(wet_c) - lost


def vapour_pressure_from_humidity(
    tmin_c: ArrayLike, tmax_c: ArrayLike, humidity_max: ArrayLike, humidity_min: ArrayLike
) -> Floats:
    """Actual vapour pressure from the day's greatest and smallest relative humidity, 0..100 (eq. 17). [kPa]

    Raises
    ------
    ValueError
        If a humidity lies outside 0..100, or the greatest is below the smallest.
    """
    damp, dry = np.asarray(humidity_max, float), np.asarray(humidity_min, float)
    if not ((dry >= 0) & (dry <= damp) & (damp <= 100)).all():
        raise ValueError("relative humidity must lie between 0 and 100 %, the smallest below the greatest.")
    return (saturation_pressure(tmin_c) * damp + saturation_pressure(tmax_c) * dry) / 200


def wind_at_2m(wind_m_s: ArrayLike, height_m: ArrayLike) -> Floats:
    """Wind at 2 m from wind measured at another height, at 0.2 m or more (FAO-56 eq. 47). [m/s]

    >>> round(float(wind_at_2m(3.2, 10)), 1)
    2.4
    """
    height = np.asarray(height_m, float)
    if not (height >= 0.2).all():
        raise ValueError("wind must be measured 0.2 m above the ground or higher.")
    return np.asarray(wind_m_s, float) * 4.87 / np.log(67.8 * height - 5.42)


def radiation_from_sunshine(sunshine_h: ArrayLike, daylight_h: ArrayLike, ra: ArrayLike) -> Floats:
    """Solar radiation from hours of sunshine, Ångström with a 0.25 and b 0.50 (FAO-56 eq. 35); 0 in the polar night."""
    sunshine, daylight = np.broadcast_arrays(np.asarray(sunshine_h, float), np.asarray(daylight_h, float))
    share = np.divide(sunshine, daylight, out=np.zeros(sunshine.shape), where=daylight > 0)
    return (0.25 + 0.50 * share) * np.asarray(ra, float)


def radiation_from_temperatures(
    tmin_c: ArrayLike, tmax_c: ArrayLike, ra: ArrayLike, coefficient: float = 0.16
) -> Floats:
    """Solar radiation from the daily range: 0.16 inland, 0.19 at the coast (FAO-56 eq. 50)."""
    span = np.asarray(tmax_c, float) - np.asarray(tmin_c, float)
    return coefficient * np.sqrt(np.maximum(span, 0)) * np.asarray(ra, float)


def net_radiation(
    tmin_c: ArrayLike,
    tmax_c: ArrayLike,
    vapour_kpa: ArrayLike,
    solar: ArrayLike,
    ra: ArrayLike,
    altitude_m: ArrayLike,
) -> Floats:
    """Net radiation at the crop, shortwave in less longwave out (FAO-56 eq. 37 to 40).

    The share of clear-sky radiation is held between dense cloud and clear sky: below, the formula for longwave
    would turn round and let a dark sky warm the ground. Without any sun in the day it is taken as clear.
    """
    clear = (0.75 + 2e-5 * np.asarray(altitude_m, float)) * np.asarray(ra, float)
    relative = np.clip(np.divide(solar, clear, out=np.ones_like(clear), where=clear > 0), DENSE_CLOUD, 1)
    heat = ((np.asarray(tmax_c, float) + KELVIN) ** 4 + (np.asarray(tmin_c, float) + KELVIN) ** 4) / 2
    out = STEFAN_BOLTZMANN * heat * (0.34 - 0.14 * np.sqrt(vapour_kpa)) * (1.35 * relative - 0.35)
    return (1 - ALBEDO) * np.asarray(solar, float) - out


def monthly_soil_heat(temperature_before_c: ArrayLike, temperature_after_c: ArrayLike) -> Floats:
    """Soil heat flux of a month from the mean temperatures of its neighbours (FAO-56 eq. 43).

    >>> round(float(monthly_soil_heat(14.1, 18.8)), 2)
    0.33
    """
    return 0.07 * (np.asarray(temperature_after_c, float) - np.asarray(temperature_before_c, float))


@dataclass(frozen=True, slots=True)
class Weather:
    """What Penman–Monteith needs of a day or a month's mean day, numbers or arrays of one shape.

    Attributes
    ----------
    mean_c : mean temperature. [°C]
    wind_2m : wind at 2 m. [m/s]
    saturation_kpa, vapour_kpa : mean saturation and actual vapour pressure. [kPa]
    net_radiation, soil_heat : [MJ m⁻² d⁻¹]
    pressure_kpa : air pressure. [kPa]
    """

    mean_c: ArrayLike
    wind_2m: ArrayLike
    saturation_kpa: ArrayLike
    vapour_kpa: ArrayLike
    net_radiation: ArrayLike
    soil_heat: ArrayLike
    pressure_kpa: ArrayLike


def penman_monteith(day: Weather) -> Floats:
    """Reference evapotranspiration ETo (FAO-56 eq. 6), never below 0. [mm/d]"""
    mean, wind = np.asarray(day.mean_c, float), np.asarray(day.wind_2m, float)
    slope = 4098 * saturation_pressure(mean) / (mean + 237.3) ** 2
    gamma = psychrometric_constant(day.pressure_kpa)
    energy = np.asarray(day.net_radiation, float) - np.asarray(day.soil_heat, float)
    dryness = np.asarray(day.saturation_kpa, float) - np.asarray(day.vapour_kpa, float)
    drying = gamma * 900 / (mean + 273) * wind * dryness
    return np.maximum((MM_PER_MJ * slope * energy + drying) / (slope + gamma * (1 + 0.34 * wind)), 0)


def hargreaves(
    tmin_c: ArrayLike, tmax_c: ArrayLike, ra: ArrayLike, mean_c: ArrayLike | None = None
) -> Floats:
    """ETo from temperatures alone (FAO-56 eq. 52), never below 0. [mm/d]

    Parameters
    ----------
    mean_c : the mean temperature where it is known apart from the middle of the extremes.

    Raises
    ------
    ValueError
        If a minimum exceeds its maximum.
    """
    low, high = np.asarray(tmin_c, float), np.asarray(tmax_c, float)
    if (low > high).any():
        raise ValueError("a minimum temperature is above its maximum.")
    mean = (low + high) / 2 if mean_c is None else np.asarray(mean_c, float)
    return np.maximum(0.0023 * (mean + 17.8) * np.sqrt(high - low) * np.asarray(ra, float) * MM_PER_MJ, 0)


def hargreaves_of_day(
    day_of_year: ArrayLike, latitude_deg: ArrayLike, tmin_c: ArrayLike, tmax_c: ArrayLike
) -> Floats:
    """ETo of a day of the year at a latitude. [mm/d]

    >>> round(float(hargreaves_of_day(15, 0.0, 22.0, 31.0)), 4)
    4.5093
    """
    return hargreaves(tmin_c, tmax_c, extraterrestrial_radiation(day_of_year, latitude_deg))


MIDDLE_DAYS = np.array([15, 46, 74, 105, 135, 166, 196, 227, 258, 288, 319, 349])
DAYS_OF_MONTHS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
HOT_C = 26.5  # above it the power law no longer holds


@dataclass(frozen=True, slots=True)
class Thornthwaite:
    """Monthly evapotranspiration from mean temperatures.

    Attributes
    ----------
    heat_index, exponent : I and a of the formula.
    unadjusted_mm : (12,) for months of 30 days of 12 hours. [mm]
    monthly_mm : (12,) for the month's days and day length. [mm]
    """

    heat_index: float
    exponent: float
    unadjusted_mm: Floats
    monthly_mm: Floats


def thornthwaite(mean_c: ArrayLike, latitude_deg: float) -> Thornthwaite:
    """Monthly potential evapotranspiration after Thornthwaite (1948).

    Parameters
    ----------
    mean_c : (12,) mean temperature of each month, January first. [°C]
    latitude_deg : degrees north.

    Raises
    ------
    ValueError
        If there are not twelve months.

    References
    ----------
    Thornthwaite (1948), Geographical Review 38:55; above 26.5 °C Willmott, Rowe and Mintz (1985),
    J. Climatology 5:589; day length as in FAO-56.
    """
    mean = np.asarray(mean_c, float)
    if mean.shape != (12,):
        raise ValueError("Thornthwaite's formula needs the twelve monthly mean temperatures.")
    warm = np.maximum(mean, 0)
    index = float(((warm / 5) ** 1.514).sum())
    exponent = 6.75e-7 * index**3 - 7.71e-5 * index**2 + 1.792e-2 * index + 0.49239
    power = 16 * (10 * warm / index) ** exponent if index > 0 else np.zeros(12)
    unadjusted = np.where(mean >= HOT_C, -415.85 + 32.24 * mean - 0.43 * mean**2, power)
    hours = daylight_hours(MIDDLE_DAYS, latitude_deg)
    return Thornthwaite(index, exponent, unadjusted, unadjusted * hours / 12 * DAYS_OF_MONTHS / 30)

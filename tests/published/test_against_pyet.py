"""Sun and evapotranspiration against pyet, a general library of the registry used in tests alone.

Both follow FAO-56 (Allen, Pereira, Raes and Smith 1998), so what is left between them is rounding: pyet writes
118.08 / 3.141592654 where we have 24 · 60 / π · 0.0820, which is 1 part in 10¹⁰. The bound of 1e-8 leaves room
for sums of large terms and nothing else. Where the two differ by rule, the test says by which.
"""

import numpy as np
import pandas as pd
import pyet
import pytest

from projects.calc import evapotranspiration as et
from projects.calc.sun import (
    daylight_hours,
    declination_rad,
    extraterrestrial_radiation,
    inverse_distance,
    sunset_angle_rad,
)

LATITUDES = [-66.5, -60.0, -42.2, -23.4, -1.2, 0.0, 14.0, 39.0, 50.8, 60.0, 66.5, 70.0]
YEAR = pd.date_range("2024-01-01", "2024-12-31", freq="D")  # a leap year: day 366 too
DAYS = YEAR.dayofyear.to_numpy()
ALTITUDES = [-400.0, 0.0, 100.0, 1200.0, 2600.0, 4500.0]
ROUNDING = {"rtol": 1e-8, "atol": 1e-9}


def weather(seed):
    """A year of made-up days, cold and hot, still and windy, dull and bright: `(366,)` each."""
    rng = np.random.default_rng(seed)
    low = rng.uniform(-35, 28, DAYS.size)
    driest, dampest = np.sort(rng.uniform(3, 100, (2, DAYS.size)), axis=0)
    return {
        "tmin": low,
        "tmax": low + rng.uniform(0, 24, DAYS.size),
        "wind": rng.uniform(0, 12, DAYS.size),
        "rhmin": driest,
        "rhmax": dampest,
        "bright": rng.uniform(0, 1, DAYS.size),  # hours of sun over hours of daylight
        "soil": rng.uniform(-2, 2, DAYS.size),
    }


def as_pyet(values):
    return pd.Series(values, YEAR)


def test_the_year_of_the_sun():
    np.testing.assert_allclose(inverse_distance(DAYS), pyet.relative_distance(DAYS), **ROUNDING)
    np.testing.assert_allclose(declination_rad(DAYS), pyet.solar_declination(DAYS), **ROUNDING)


@pytest.mark.parametrize("latitude", LATITUDES)
def test_day_length_and_radiation_above_the_air(latitude):
    """All days, polar night and polar day among them."""
    at = np.radians(latitude)
    np.testing.assert_allclose(
        sunset_angle_rad(DAYS, latitude), pyet.sunset_angle(declination_rad(DAYS), at), **ROUNDING
    )
    np.testing.assert_allclose(daylight_hours(DAYS, latitude), pyet.daylight_hours(YEAR, at), **ROUNDING)
    np.testing.assert_allclose(
        extraterrestrial_radiation(DAYS, latitude), pyet.extraterrestrial_r(YEAR, at), **ROUNDING
    )


@pytest.mark.parametrize("altitude", ALTITUDES)
def test_pressures(altitude):
    w = weather(1)
    pressure = et.air_pressure(altitude)
    assert float(pressure) == pytest.approx(pyet.calc_press(altitude), rel=1e-12)
    assert float(et.psychrometric_constant(pressure)) == pytest.approx(
        pyet.calc_psy(float(pressure)), rel=1e-12
    )
    np.testing.assert_allclose(et.saturation_pressure(w["tmin"]), pyet.calc_e0(w["tmin"]), rtol=1e-12)
    np.testing.assert_allclose(
        et.mean_saturation_pressure(w["tmin"], w["tmax"]),
        pyet.calc_es(tmax=w["tmax"], tmin=w["tmin"]),
        rtol=1e-12,
    )
    np.testing.assert_allclose(
        et.vapour_pressure_from_humidity(w["tmin"], w["tmax"], w["rhmax"], w["rhmin"]),
        pyet.calc_ea(tmax=w["tmax"], tmin=w["tmin"], rhmax=w["rhmax"], rhmin=w["rhmin"]),
        rtol=1e-12,
    )


@pytest.mark.parametrize("latitude", LATITUDES)
@pytest.mark.parametrize("altitude", [0.0, 2600.0])
def test_penman_monteith_of_made_up_weather(latitude, altitude):
    """The whole way from temperatures, humidity, sunshine and wind; days without any sun are left out.

    In the polar night clear-sky radiation is 0 and the share of it that arrives has no value: we take a clear
    sky, pyet a dull one; both give hardly any evapotranspiration.
    """
    w = weather(int(100 * abs(latitude) + altitude))
    ra = extraterrestrial_radiation(DAYS, latitude)
    solar = et.radiation_from_sunshine(w["bright"] * 10, 10.0, ra)
    vapour = et.vapour_pressure_from_humidity(w["tmin"], w["tmax"], w["rhmax"], w["rhmin"])
    net = et.net_radiation(w["tmin"], w["tmax"], vapour, solar, ra, altitude)
    lit = ra > 0
    s = {key: as_pyet(values) for key, values in w.items()}
    theirs = pyet.calc_rad_net(
        None, rs=as_pyet(solar), lat=np.radians(latitude), tmax=s["tmax"], tmin=s["tmin"], rhmax=s["rhmax"],
        rhmin=s["rhmin"], elevation=altitude,
    )  # fmt: skip
    np.testing.assert_allclose(net[lit], theirs.to_numpy()[lit], **ROUNDING)
    mean = (w["tmin"] + w["tmax"]) / 2
    ours = et.penman_monteith(
        et.Weather(mean, w["wind"], et.mean_saturation_pressure(w["tmin"], w["tmax"]), vapour, net, w["soil"],
                   et.air_pressure(altitude))
    )  # fmt: skip
    theirs = pyet.pm_fao56(
        as_pyet(mean), s["wind"], rs=as_pyet(solar), g=s["soil"], tmax=s["tmax"], tmin=s["tmin"],
        rhmax=s["rhmax"], rhmin=s["rhmin"], elevation=altitude, lat=np.radians(latitude),
    )  # fmt: skip
    np.testing.assert_allclose(ours[lit], theirs.to_numpy()[lit], **ROUNDING)
    assert ours[lit].max() > 3


@pytest.mark.parametrize("latitude", LATITUDES)
def test_hargreaves_of_made_up_weather(latitude):
    """FAO-56 divides by one latent heat, 1 / 0.408 MJ/kg; pyet by that of the day's temperature.

    With theirs put in place of ours nothing but rounding is left: the two part by the latent heat alone, which
    is 5 % at −35 °C and 2 % at 0 °C.
    """
    w = weather(7)
    mean = (w["tmin"] + w["tmax"]) / 2
    ours = et.hargreaves_of_day(DAYS, latitude, w["tmin"], w["tmax"])
    theirs = pyet.hargreaves(
        as_pyet(mean), as_pyet(w["tmax"]), as_pyet(w["tmin"]), np.radians(latitude)
    ).to_numpy()
    latent = pyet.calc_lambda(mean)
    np.testing.assert_allclose(ours / et.MM_PER_MJ / latent, theirs, **ROUNDING)


def test_sun_seen_through_thick_cloud():
    """A sky reported darker than dense cloud (0.3 of a clear one) is taken as dense cloud, as pyet does."""
    ra = as_pyet(extraterrestrial_radiation(DAYS, 40.0))
    cold, warm, vapour = (np.full(DAYS.size, value) for value in (5.0, 15.0, 0.8))
    for share in (0.0, 0.02, 0.2, 0.5, 0.76, 1.0):
        solar = share * ra
        ours = et.net_radiation(cold, warm, vapour, solar, ra, 300.0)
        theirs = pyet.calc_rad_net(
            None, rs=solar, lat=np.radians(40.0), tmax=as_pyet(warm), tmin=as_pyet(cold), ea=as_pyet(vapour),
            elevation=300.0,
        )  # fmt: skip
        np.testing.assert_allclose(ours, theirs, **ROUNDING)
    dark = et.net_radiation(5.0, 15.0, 0.8, 0.0, 20.0, 300.0)
    assert float(dark) < 0  # without sun the ground loses heat, it never gains any

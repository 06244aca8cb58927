"""Sun, evapotranspiration and soil water against FAO-56's printed examples and values computed elsewhere.

The examples of FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes and Smith 1998) are quoted
second-hand with their number and page; rows marked "from memory" say so.
"""

import json
from pathlib import Path

import numpy as np
import pytest

from projects.calc import evapotranspiration as et
from projects.calc import soil_water
from projects.calc.daily_normals import DAYS_OF_MONTHS, daily_from_monthly
from projects.calc.sun import (
    daylight_hours,
    declination_rad,
    extraterrestrial_radiation,
    inverse_distance,
    sunset_angle_rad,
)
from tests.published.rows import checks

CHECKS = {
    case["id"]: case
    for case in json.loads((Path(__file__).parent / "data" / "climate_checks.json").read_text("utf-8"))[
        "cases"
    ]
}
UCCLE = {"day": 187, "latitude": 50.80, "altitude": 100, "tmin": 12.3, "tmax": 21.5, "sunshine": 9.25}


@checks("D1", "D2")
def test_sun_of_3_september_at_20_south():
    """FAO-56 examples 8 and 9, pages 80 and 83 (D1, D2)."""
    assert round(float(inverse_distance(246)), 3) == 0.985
    assert round(float(declination_rad(246)), 3) == 0.120
    assert round(float(sunset_angle_rad(246, -20)), 3) == 1.527
    ra = float(extraterrestrial_radiation(246, -20))
    assert round(ra, 1) == 32.2
    assert round(ra * et.MM_PER_MJ, 1) == 13.1
    assert round(float(daylight_hours(246, -20)), 1) == 11.7


@checks("10-ra-J15-lat0.0", "10-ra-J355-lat66.0", "10-ra-J172-lat70.0")
@pytest.mark.parametrize("name", [name for name in CHECKS if name.startswith("10-ra-")])
def test_radiation_day_length_and_hargreaves_from_the_equator_to_the_polar_day(name):
    given, expected = CHECKS[name]["inputs"], CHECKS[name]["expected"]
    day, latitude = given["day_of_year"], given["lat_deg"]
    ra = float(extraterrestrial_radiation(day, latitude))
    assert ra == pytest.approx(expected["Ra"], abs=1e-6)
    assert float(daylight_hours(day, latitude)) == pytest.approx(expected["daylight"], abs=1e-6)
    eto = float(et.hargreaves_of_day(day, latitude, given["tmin"], given["tmax"]))
    assert eto == pytest.approx(expected["hargreaves"], abs=1e-6)


@checks("D4", "D5", "D6", "D7", "D8")
def test_pressures_and_wind():
    """FAO-56 examples 2 to 5 and 14 (D4 to D8), quoted second-hand."""
    assert round(float(et.air_pressure(1800)), 1) == 81.8
    assert round(float(et.psychrometric_constant(et.air_pressure(1800))), 3) == 0.054
    assert round(float(et.mean_saturation_pressure(15, 24.5)), 2) == 2.39
    assert round(float(et.vapour_pressure_from_bulbs(25.6, 19.5, et.air_pressure(1200))), 2) == 1.91
    assert round(float(et.vapour_pressure_from_humidity(18, 25, 82, 54)), 2) == 1.70
    assert round(float(et.wind_at_2m(3.2, 10)), 1) == 2.4


@checks("D3", "D9")
def test_solar_radiation_from_sunshine_and_from_temperatures():
    """FAO-56 examples 10 and 15 (D3, D9)."""
    assert float(et.radiation_from_sunshine(7.1, 10.9, 25.1)) == pytest.approx(14.45, abs=0.005)
    assert round(float(et.radiation_from_temperatures(14.8, 26.6, 40.6)), 1) == 22.3


@checks("D10")
def test_uccle_on_6_july():
    """FAO-56 example 18 (D10): every step as printed, and ETo 3.88 mm a day."""
    u = UCCLE
    wind = float(et.wind_at_2m(10 / 3.6, 10))
    saturation = float(et.mean_saturation_pressure(u["tmin"], u["tmax"]))
    vapour = float(et.vapour_pressure_from_humidity(u["tmin"], u["tmax"], 84, 63))
    ra = float(extraterrestrial_radiation(u["day"], u["latitude"]))
    daylight = float(daylight_hours(u["day"], u["latitude"]))
    solar = float(et.radiation_from_sunshine(u["sunshine"], daylight, ra))
    net = float(et.net_radiation(u["tmin"], u["tmax"], vapour, solar, ra, u["altitude"]))
    assert round(wind, 3) == 2.078
    assert round(saturation, 3) == 1.997
    assert round(vapour, 3) == 1.409
    assert round(ra, 2) == 41.09
    assert round(daylight, 1) == 16.1
    assert net == pytest.approx(13.28, abs=0.01)
    eto = et.penman_monteith(
        et.Weather(
            (u["tmin"] + u["tmax"]) / 2, wind, saturation, vapour, net, 0.0, et.air_pressure(u["altitude"])
        )
    )
    assert round(float(eto), 2) == 3.88


@checks("D11")
def test_bangkok_in_april():
    """FAO-56 example 17 (D11): 5.72 printed; 5.71 without the source's rounding on the way."""
    eto = et.penman_monteith(et.Weather(30.2, 2.0, 4.42, 2.85, 14.33, 0.14, et.air_pressure(2)))
    assert float(eto) == pytest.approx(5.72, abs=0.015)


@checks("D12")
def test_soil_heat_of_a_month():
    """FAO-56 example 13 (D12)."""
    assert round(float(et.monthly_soil_heat(14.1, 18.8)), 2) == 0.33


@checks("D13", "D14")
def test_hargreaves_examples():
    """Lyon in July, near FAO-56 example 20, from memory (D13); and Mehta 2006, whose mean is not the middle (D14)."""
    assert round(float(et.hargreaves(14.8, 26.6, 40.6)), 2) == 5.04
    assert round(float(et.hargreaves(28, 38, 38.937, mean_c=35)), 1) == 6.1


@checks("10-thornthwaite")
def test_thornthwaite_with_day_length():
    given, expected = CHECKS["10-thornthwaite"]["inputs"], CHECKS["10-thornthwaite"]["expected"]
    found = et.thornthwaite(given["tmean"], given["lat_deg"])
    assert found.heat_index == pytest.approx(expected["I"], abs=1e-6)
    assert found.exponent == pytest.approx(expected["a"], abs=1e-6)
    assert found.unadjusted_mm == pytest.approx(expected["unadjusted"], abs=1e-6)
    assert found.monthly_mm == pytest.approx(expected["PET"], abs=1e-6)
    assert found.monthly_mm.sum() == pytest.approx(expected["annual"], abs=1e-6)


@checks("D15", "10-thornthwaite-hot")
def test_thornthwaite_own_arithmetic_and_hot_months():
    """D15, arithmetic on made-up months (index 38.795); hot months after Willmott, Rowe and Mintz 1985."""
    found = et.thornthwaite([2, 3, 6, 9, 13, 16, 18, 18, 15, 11, 6, 3], 45.0)
    assert (round(found.heat_index, 3), round(found.exponent, 4)) == (38.795, 1.1110)
    assert round(found.unadjusted_mm[6], 1) == 88.0
    hot = CHECKS["10-thornthwaite-hot"]
    found = et.thornthwaite([*hot["inputs"]["tmean"], *[20.0] * 9], 0.0)
    assert found.unadjusted_mm[:3] == pytest.approx(hot["expected"]["unadjusted"], abs=1e-9)
    assert et.thornthwaite([-5.0] * 12, 60.0).monthly_mm.tolist() == [0.0] * 12


@checks("10-waterbalance-TM-exp", "10-waterbalance-TM-linear")
@pytest.mark.parametrize(
    ("name", "decline"), [("10-waterbalance-TM-exp", "exponential"), ("10-waterbalance-TM-linear", "linear")]
)
def test_monthly_water_balance(name, decline):
    given, expected = CHECKS[name]["inputs"], CHECKS[name]["expected"]
    year = soil_water.monthly_balance(given["P"], given["PET"], given["capacity"], decline)
    assert year.stored == pytest.approx(expected["ST"], abs=1e-9)
    assert year.used == pytest.approx(expected["AE"], abs=1e-9)
    assert year.deficit == pytest.approx(expected["deficit"], abs=1e-9)
    assert year.surplus == pytest.approx(expected["surplus"], abs=1e-9)


def test_a_dry_year_closes_on_itself_and_loses_no_water():
    rng = np.random.default_rng(5)
    rain, demand = rng.gamma(1, 2, 365), rng.gamma(4, 1, 365)
    year = soil_water.daily_balance(rain, demand, 80.0)
    assert rain.sum() == pytest.approx(year.used.sum() + year.surplus.sum(), abs=1e-6)
    assert ((year.stored >= 0) & (year.stored <= 80)).all() and (year.deficit >= -1e-12).all()


@checks("D16", "J8")
def test_available_water():
    """FAO-56 example 36, from memory (D16), and J8, arithmetic: 22.5 mm last 9 days at 2.5 mm a day."""
    assert soil_water.available_mm_per_m(0.15, 0.06) == pytest.approx(90)
    assert soil_water.available_mm_per_m(0.32, 0.15) == pytest.approx(170)
    assert soil_water.available_mm_per_m(0.35, 0.23) == pytest.approx(120)
    assert soil_water.readily_available_mm(0.30, 150) / (5 * 0.5) == pytest.approx(9)


@checks("D17")
def test_effective_rain():
    """D17, from memory of an FAO irrigation manual."""
    assert soil_water.effective_rain_mm([50, 100, 150]).tolist() == [20, 55, 95]


@pytest.mark.parametrize("never_negative", [False, True])
def test_days_give_the_months_back(never_negative):
    rng = np.random.default_rng(3)
    for _ in range(50):
        months = rng.gamma(0.4, 10, 12)
        days = daily_from_monthly(months, never_negative=never_negative)
        parts = np.split(days, np.cumsum(DAYS_OF_MONTHS)[:-1])
        assert [part.mean() for part in parts] == pytest.approx(months.tolist(), abs=1e-9)
        assert not never_negative or (days >= 0).all()


def test_temperature_days_run_smoothly_through_new_year():
    days = daily_from_monthly(10 + 8 * np.cos(2 * np.pi * (np.arange(12) - 6) / 12))
    steps = np.abs(np.diff(np.append(days, days[0])))
    assert steps.max() < 0.25
    assert days[181:212].mean() > days[:31].mean() + 14


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: extraterrestrial_radiation(0, 40), "day of the year"),
        (lambda: daylight_hours(10, 95), "latitude"),
        (lambda: et.hargreaves(20, 10, 30), "minimum temperature"),
        (lambda: et.thornthwaite([1] * 11, 40), "twelve"),
        (lambda: daily_from_monthly([1] * 11), "twelve"),
        (lambda: daily_from_monthly([-1.0] * 12, never_negative=True), "below 0"),
        (lambda: soil_water.monthly_balance([1], [1, 2], 10), "one length"),
        (lambda: soil_water.monthly_balance([1], [1], 0), "capacity"),
        (lambda: soil_water.monthly_balance([-1], [1], 5), "negative"),
        (lambda: soil_water.monthly_balance([1], [1], 5, "steep"), "decline"),
    ],
)
def test_what_cannot_be_is_refused_in_words(call, words):
    with pytest.raises(ValueError, match=words):
        call()

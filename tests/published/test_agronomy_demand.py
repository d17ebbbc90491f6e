"""Vapour, sunlight and evapotranspiration against FAO Irrigation and Drainage Paper 56 and against libraries.

Printed results are FAO-56's (Allen, Pereira, Raes and Smith 1998), by its example number. Tolerances are
those of the printed digits: 0.01 kPa, 0.05 MJ/m2/d, 0.02 mm/d.
"""

from __future__ import annotations

import numpy as np
import pytest
import refet
from pyet import meteo_utils

from wickwatch.agronomy import air, demand, sun

# derived: e0 by FAO-56 eq. 11 and by PsychroLib 2.5.0 (ASHRAE), kPa
E0 = [
    (15.0, 1.7053, 1.7054),
    (18.0, 2.0640, 2.0643),
    (20.0, 2.3383, 2.3388),
    (22.0, 2.6439, 2.6448),
    (24.0, 2.9839, 2.9851),
    (25.0, 3.1678, 3.1692),
    (26.0, 3.3614, 3.3631),
    (28.0, 3.7799, 3.7822),
    (30.0, 4.2431, 4.2460),
    (35.0, 5.6227, 5.6278),
]


@pytest.mark.parametrize(("degc", "fao", "ashrae"), E0)
def test_saturation_is_fao_equation_11_and_close_to_ashrae(degc: float, fao: float, ashrae: float) -> None:
    found = air.saturation_vapour_pressure_kpa(degc)
    assert found == pytest.approx(fao, abs=5e-5)
    assert found == pytest.approx(ashrae, rel=0.0011)


# derived: e0 (1 - RH)
@pytest.mark.parametrize(
    ("degc", "percent", "deficit"),
    [
        (24, 60, 1.194),
        (25, 60, 1.267),
        (26, 55, 1.513),
        (28, 70, 1.134),
        (20, 50, 1.169),
        (22, 75, 0.661),
        (30, 40, 2.546),
        (24, 100, 0.0),
    ],
)
def test_deficit_of_room_air(degc: float, percent: float, deficit: float) -> None:
    assert air.vapour_pressure_deficit_kpa(degc, percent) == pytest.approx(deficit, abs=5e-4)


def test_example_2_pressure_and_psychrometric_constant_at_1800_m() -> None:
    pressure = air.pressure_at_altitude_kpa(1800.0)
    assert pressure == pytest.approx(81.8, abs=0.05)
    assert pressure == pytest.approx(meteo_utils.calc_press(1800.0), rel=1e-9)
    assert air.psychrometric_constant_kpa_per_degc(pressure) == pytest.approx(0.054, abs=5e-4)


def test_example_3_saturation_of_a_day_is_the_mean_of_its_extremes() -> None:
    assert air.saturation_vapour_pressure_kpa([24.5, 15.0]) == pytest.approx([3.075, 1.705], abs=5e-4)
    assert air.mean_saturation_vapour_pressure_kpa(24.5, 15.0) == pytest.approx(2.39, abs=0.005)
    assert air.saturation_vapour_pressure_kpa((24.5 + 15.0) / 2) == pytest.approx(2.30, abs=0.005)


def test_example_4_vapour_pressure_from_a_psychrometer_at_1200_m() -> None:
    # inputs from memory
    pressure = air.pressure_at_altitude_kpa(1200.0)
    assert pressure == pytest.approx(87.9, abs=0.05)
    assert air.vapour_pressure_from_psychrometer_kpa(25.6, 19.5, pressure) == pytest.approx(1.91, abs=0.005)


def test_examples_5_and_6_vapour_pressure_and_deficit_of_a_day() -> None:
    assert air.vapour_pressure_from_humidity_kpa(25.0, 18.0, 82.0, 54.0) == pytest.approx(1.70, abs=0.005)
    # example 6 combines examples 3 and 5; printed 0.69, from memory
    saturation = air.mean_saturation_vapour_pressure_kpa(24.5, 15.0)
    deficit = saturation - air.vapour_pressure_from_humidity_kpa(25.0, 18.0, 82.0, 54.0)
    assert deficit == pytest.approx(0.69, abs=0.005)


def test_example_8_radiation_above_the_atmosphere_on_3_september_at_20_south() -> None:
    day = 246.0
    assert sun.inverse_relative_distance(day) == pytest.approx(0.985, abs=5e-4)
    assert sun.declination_rad(day) == pytest.approx(0.12, abs=0.005)
    assert sun.extraterrestrial_radiation_mj(-20.0, day) == pytest.approx(32.2, abs=0.05)


def test_example_17_bangkok_in_april() -> None:
    # the month before (29.2 degC) and Rn are from memory
    day, latitude = 105.0, 13.0 + 44.0 / 60.0
    radiation = sun.extraterrestrial_radiation_mj(latitude, day)
    hours = sun.daylight_hours(latitude, day)
    assert radiation == pytest.approx(38.06, abs=0.05)
    assert hours == pytest.approx(12.31, abs=0.01)
    solar = sun.solar_radiation_mj(radiation, 8.5, hours)
    lost = sun.net_longwave_radiation_mj(34.8, 25.6, 2.85, solar, sun.clear_sky_radiation_mj(radiation, 2.0))
    net = sun.net_radiation_mj(solar, lost)
    assert net == pytest.approx(14.33, abs=0.05)
    soil = demand.monthly_soil_heat_flux_mj(30.2, 29.2)
    assert soil == pytest.approx(0.14, abs=0.005)
    saturation = air.mean_saturation_vapour_pressure_kpa(34.8, 25.6)
    found = demand.reference_evapotranspiration_mm(
        30.2,
        net,
        wind_2m_m_per_s=2.0,
        saturation_kpa=saturation,
        vapour_kpa=2.85,
        pressure_kpa=air.pressure_at_altitude_kpa(2.0),
        soil_heat_mj=soil,
    )
    assert found == pytest.approx(5.72, abs=0.02)


def test_example_18_uccle_on_6_july_agrees_with_the_book_and_with_refet() -> None:
    # es, ea, Rso and Rn as printed are from memory
    day, latitude, altitude = 187.0, 50.8, 100.0
    wind = demand.wind_at_2_m(10.0 / 3.6, 10.0)
    assert wind == pytest.approx(2.078, abs=5e-4)
    saturation = air.mean_saturation_vapour_pressure_kpa(21.5, 12.3)
    vapour = air.vapour_pressure_from_humidity_kpa(21.5, 12.3, 84.0, 63.0)
    assert [saturation, vapour] == pytest.approx([1.997, 1.409], abs=0.001)
    radiation = sun.extraterrestrial_radiation_mj(latitude, day)
    solar = sun.solar_radiation_mj(radiation, 9.25, sun.daylight_hours(latitude, day))
    clear = sun.clear_sky_radiation_mj(radiation, altitude)
    assert [radiation, solar, clear] == pytest.approx([41.09, 22.07, 30.90], abs=0.05)
    net = sun.net_radiation_mj(solar, sun.net_longwave_radiation_mj(21.5, 12.3, vapour, solar, clear))
    assert net == pytest.approx(13.28, abs=0.05)
    found = demand.reference_evapotranspiration_mm(
        16.9,
        net,
        wind_2m_m_per_s=wind,
        saturation_kpa=saturation,
        vapour_kpa=vapour,
        pressure_kpa=air.pressure_at_altitude_kpa(altitude),
    )
    assert found == pytest.approx(3.88, abs=0.02)
    other = refet.Daily(
        tmin=12.3,
        tmax=21.5,
        ea=float(vapour),
        rs=float(solar),
        uz=float(wind),
        zw=2.0,
        elev=altitude,
        lat=latitude,
        doy=int(day),
        method="asce",
        rso_type="simple",
    ).eto()
    assert found == pytest.approx(float(np.ravel(other)[0]), abs=0.02)


# derived: pressure (eq. 7) minus e0(20 degC) (eq. 11), kPa
@pytest.mark.parametrize(
    ("altitude_m", "bound_kpa"), [(0, 98.96), (500, 93.19), (1000, 87.69), (1500, 82.44), (2000, 77.45)]
)
def test_a_tensiometer_can_read_less_at_altitude(altitude_m: float, bound_kpa: float) -> None:
    assert air.highest_tension_mbar(altitude_m) / 10.0 == pytest.approx(bound_kpa, abs=0.05)

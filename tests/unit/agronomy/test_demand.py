"""Laws of air, sun and demand, and what they refuse."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wickwatch.agronomy import air, demand, sun
from wickwatch.agronomy.demand import Crop, container_demand_l_per_h
from wickwatch.errors import InputError


@given(st.floats(-20.0, 45.0), st.floats(0.0, 100.0))
def test_deficit_lies_between_nothing_and_saturation(degc: float, percent: float) -> None:
    deficit = air.vapour_pressure_deficit_kpa(degc, percent)
    assert 0.0 <= deficit <= air.saturation_vapour_pressure_kpa(degc)


@given(st.floats(-20.0, 45.0))
def test_the_saturation_slope_is_the_derivative_of_the_curve(degc: float) -> None:
    step = 1e-4
    rise = air.saturation_vapour_pressure_kpa(degc + step) - air.saturation_vapour_pressure_kpa(degc - step)
    # FAO-56 rounds 17.27 x 237.3 = 4098.171 to 4098
    assert air.saturation_slope_kpa_per_degc(degc) == pytest.approx(rise / (2 * step), rel=1e-4)


@pytest.mark.parametrize("percent", [-1.0, 100.5])
def test_a_humidity_outside_0_to_100_is_refused(percent: float) -> None:
    with pytest.raises(InputError, match="humidity"):
        air.vapour_pressure_deficit_kpa(24.0, percent)


def test_a_missing_humidity_gives_a_missing_deficit() -> None:
    assert np.isnan(air.vapour_pressure_deficit_kpa([24.0, np.nan], [np.nan, 50.0])).all()


def test_a_wet_bulb_above_the_dry_one_is_refused() -> None:
    with pytest.raises(InputError, match="wet bulb"):
        air.vapour_pressure_from_psychrometer_kpa(20.0, 21.0, 100.0)


def test_the_sun_does_not_set_in_a_polar_summer_and_does_not_rise_in_its_winter() -> None:
    assert sun.daylight_hours(80.0, [172.0, 355.0]).tolist() == [24.0, 0.0]
    assert sun.extraterrestrial_radiation_mj(80.0, 355.0) == pytest.approx(0.0, abs=1e-9)


@given(st.floats(-66.0, 66.0), st.floats(1.0, 365.0))
def test_days_north_and_south_make_up_24_hours(latitude: float, day: float) -> None:
    assert sun.daylight_hours(latitude, day) + sun.daylight_hours(-latitude, day) == pytest.approx(24.0)


def test_container_demand_is_the_sum_of_its_light_and_its_deficit_term() -> None:
    # derived by hand: A (1 - exp(-k LAI)) light = 0.5 x 0.7220 x 150 = 54.15 W/m2; B LAI deficit = 48 W/m2;
    # 102.15 W/m2 over 2.45 MJ/kg for an hour, on 0.25 m2
    found = container_demand_l_per_h(Crop(), 1.2, 150.0, 2.0, 0.25)
    assert found == pytest.approx(102.15 / 2.45e6 * 3600.0 * 0.25, rel=1e-4)


def test_plants_drink_less_in_the_dark_and_nothing_in_saturated_dark_air() -> None:
    day, night, still = container_demand_l_per_h(Crop(), [1.0, 1.0, 0.0], [150.0, 0.0, 0.0], 2.0, 0.25)
    assert day > night > 0.0
    assert still == 0.0


def test_negative_drivers_are_refused() -> None:
    with pytest.raises(InputError, match="deficit"):
        container_demand_l_per_h(Crop(), -0.1, 0.0, 2.0, 0.25)


def test_wind_at_2_m_is_left_as_it_is() -> None:
    # FAO-56's factor is 1 at 2 m to its printed digits
    assert demand.wind_at_2_m(3.0, 2.0) == pytest.approx(3.0, rel=1e-3)

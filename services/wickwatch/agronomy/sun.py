"""Sunlight over a place through the year, for rooms that have glass.

Here: the radiation equations of FAO Irrigation and Drainage Paper 56 (Allen et al. 1998); equation numbers
are that paper's. Not here: lamps, whose light is a setting of the room. Radiation is MJ/m2 a day, latitude
degrees (south negative), day the day of the year (1 January = 1); arrays broadcast and NaN passes through.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wickwatch.agronomy.arrays import Floats, floats, within

SOLAR_CONSTANT_MJ_PER_M2_MIN = 0.0820
STEFAN_BOLTZMANN_MJ_PER_K4_M2_D = 4.903e-9
GRASS_ALBEDO = 0.23


def inverse_relative_distance(day: ArrayLike) -> Floats:
    """Return the inverse relative distance earth to sun, dr (eq. 23)."""
    return floats(1.0 + 0.033 * np.cos(2.0 * np.pi / 365.0 * _day(day)))


def declination_rad(day: ArrayLike) -> Floats:
    """Return solar declination [rad] (eq. 24)."""
    return floats(0.409 * np.sin(2.0 * np.pi / 365.0 * _day(day) - 1.39))


def sunset_hour_angle_rad(latitude_deg: ArrayLike, day: ArrayLike) -> Floats:
    """Return the sunset hour angle [rad] (eq. 25): 0 in polar night, pi under the midnight sun."""
    cosine = -np.tan(_latitude_rad(latitude_deg)) * np.tan(declination_rad(day))
    return floats(np.arccos(np.clip(cosine, -1.0, 1.0)))


def daylight_hours(latitude_deg: ArrayLike, day: ArrayLike) -> Floats:
    """Return the length of the day N [h] (eq. 34)."""
    return 24.0 / np.pi * sunset_hour_angle_rad(latitude_deg, day)


def extraterrestrial_radiation_mj(latitude_deg: ArrayLike, day: ArrayLike) -> Floats:
    """Return radiation above the atmosphere Ra [MJ/m2/d] (eq. 21)."""
    latitude, declination = _latitude_rad(latitude_deg), declination_rad(day)
    sunset = sunset_hour_angle_rad(latitude_deg, day)
    path = sunset * np.sin(latitude) * np.sin(declination)
    path = path + np.cos(latitude) * np.cos(declination) * np.sin(sunset)
    return floats(24.0 * 60.0 / np.pi * SOLAR_CONSTANT_MJ_PER_M2_MIN * inverse_relative_distance(day) * path)


def solar_radiation_mj(extraterrestrial_mj: ArrayLike, sunshine_h: ArrayLike, daylight_h: ArrayLike) -> Floats:
    """Return radiation at the ground Rs [MJ/m2/d] from hours of sunshine (eq. 35, as = 0.25, bs = 0.50)."""
    return (0.25 + 0.50 * floats(sunshine_h) / floats(daylight_h)) * floats(extraterrestrial_mj)


def clear_sky_radiation_mj(extraterrestrial_mj: ArrayLike, altitude_m: ArrayLike) -> Floats:
    """Return radiation at the ground under a clear sky Rso [MJ/m2/d] (eq. 37)."""
    return (0.75 + 2e-5 * floats(altitude_m)) * floats(extraterrestrial_mj)


def net_longwave_radiation_mj(
    max_degc: ArrayLike,
    min_degc: ArrayLike,
    vapour_pressure_kpa: ArrayLike,
    solar_mj: ArrayLike,
    clear_sky_mj: ArrayLike,
) -> Floats:
    """Return the net long-wave loss Rnl [MJ/m2/d] (eq. 39); solar above clear sky counts as clear."""
    fourth = ((floats(max_degc) + 273.16) ** 4 + (floats(min_degc) + 273.16) ** 4) / 2.0
    cloud = 1.35 * np.minimum(floats(solar_mj) / floats(clear_sky_mj), 1.0) - 0.35
    vapour = 0.34 - 0.14 * np.sqrt(floats(vapour_pressure_kpa))
    return floats(STEFAN_BOLTZMANN_MJ_PER_K4_M2_D * fourth * vapour * cloud)


def net_radiation_mj(solar_mj: ArrayLike, net_longwave_mj: ArrayLike, albedo: float = GRASS_ALBEDO) -> Floats:
    """Return net radiation Rn [MJ/m2/d] (eq. 38 and 40)."""
    return (1.0 - albedo) * floats(solar_mj) - floats(net_longwave_mj)


def _day(day: ArrayLike) -> Floats:
    return within("day of the year", day, 1.0, 366.0)


def _latitude_rad(latitude_deg: ArrayLike) -> Floats:
    return np.radians(within("latitude in degrees", latitude_deg, -90.0, 90.0))

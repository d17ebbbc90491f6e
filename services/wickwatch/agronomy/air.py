"""Vapour in air: pressure, saturation, deficit.

Here: the equations of FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes and Smith 1998) [1] that
concern air alone; equation numbers are that paper's. Not here: sunlight (`sun`) or what plants take
(`demand`). Temperatures are degC, pressures kPa, humidity % of saturation; arrays of any shape broadcast and
NaN passes through.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wickwatch.agronomy.arrays import Floats, floats, within
from wickwatch.errors import InputError

# Psychrometer coefficient of an aspirated instrument with 5 m/s of air over it, 1/degC (eq. 16).
ASPIRATED_PER_DEGC = 0.000662


def saturation_vapour_pressure_kpa(temperature_degc: ArrayLike) -> Floats:
    """Return saturation vapour pressure e0 [kPa] at air temperature [degC] (eq. 11)."""
    temperature = floats(temperature_degc)
    return floats(0.6108 * np.exp(17.27 * temperature / (temperature + 237.3)))


def mean_saturation_vapour_pressure_kpa(max_degc: ArrayLike, min_degc: ArrayLike) -> Floats:
    """Return the day's saturation vapour pressure es [kPa] from its extremes (eq. 12).

    Not that of the mean temperature, which is lower because the curve bends upwards.
    """
    return (saturation_vapour_pressure_kpa(max_degc) + saturation_vapour_pressure_kpa(min_degc)) / 2.0


def saturation_slope_kpa_per_degc(temperature_degc: ArrayLike) -> Floats:
    """Return the slope of the saturation curve [kPa/degC] at air temperature [degC] (eq. 13)."""
    return 4098.0 * saturation_vapour_pressure_kpa(temperature_degc) / (floats(temperature_degc) + 237.3) ** 2


def vapour_pressure_deficit_kpa(temperature_degc: ArrayLike, humidity_percent: ArrayLike) -> Floats:
    """Return the vapour pressure deficit [kPa] of air; never negative.

    Raises InputError for a humidity outside 0 to 100 %.
    """
    humidity = within("humidity in %", humidity_percent, 0.0, 100.0)
    return saturation_vapour_pressure_kpa(temperature_degc) * (1.0 - humidity / 100.0)


def vapour_pressure_from_humidity_kpa(
    max_degc: ArrayLike, min_degc: ArrayLike, max_percent: ArrayLike, min_percent: ArrayLike
) -> Floats:
    """Return the day's vapour pressure ea [kPa] from its extremes of temperature and humidity (eq. 17).

    The highest humidity goes with the lowest temperature. Raises InputError for a humidity outside 0 to 100
    %.
    """
    cool = saturation_vapour_pressure_kpa(min_degc) * within("humidity in %", max_percent, 0.0, 100.0)
    warm = saturation_vapour_pressure_kpa(max_degc) * within("humidity in %", min_percent, 0.0, 100.0)
    return (cool + warm) / 200.0


def vapour_pressure_from_psychrometer_kpa(
    dry_degc: ArrayLike,
    wet_degc: ArrayLike,
    pressure_kpa: ArrayLike,
    coefficient_per_degc: float = ASPIRATED_PER_DEGC,
) -> Floats:
    """Return vapour pressure ea [kPa] from dry and wet bulb [degC] (eq. 15); InputError if wet is warmer."""
    dry, wet = floats(dry_degc), floats(wet_degc)
    if np.any(wet > dry):
        raise InputError("wet bulb in degC", float(np.nanmax(wet)), "the dry bulb's temperature or less")
    return saturation_vapour_pressure_kpa(wet) - coefficient_per_degc * floats(pressure_kpa) * (dry - wet)


def pressure_at_altitude_kpa(altitude_m: ArrayLike) -> Floats:
    """Return mean air pressure [kPa] at altitude [m above sea level] (eq. 7)."""
    return floats(101.3 * ((293.0 - 0.0065 * floats(altitude_m)) / 293.0) ** 5.26)


def psychrometric_constant_kpa_per_degc(pressure_kpa: ArrayLike) -> Floats:
    """Return the psychrometric constant [kPa/degC] at air pressure [kPa] (eq. 8)."""
    return 0.000665 * floats(pressure_kpa)


def highest_tension_mbar(altitude_m: ArrayLike, temperature_degc: ArrayLike = 20.0) -> Floats:
    """Return the tension [mbar] at which a tensiometer's water boils: air pressure minus vapour pressure.

    A bound of physics; the instrument usually gives up earlier, when air enters its cup.
    """
    vapour_kpa = saturation_vapour_pressure_kpa(temperature_degc)
    return 10.0 * (pressure_at_altitude_kpa(altitude_m) - vapour_kpa)

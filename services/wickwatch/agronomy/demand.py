"""How much water plants take from a container or a field.

Here: FAO-56 reference evapotranspiration [1], and a container's transpiration from deficit and light [2]. Not
here: the air (`air`) and the sun (`sun`) they are fed from. The container model is a linear one of two terms
because its two coefficients can be read off a grower's own draw by day and by night; it is meant for
simulation and for plausibility, not for dosing.

1. Allen, Pereira, Raes and Smith 1998, FAO Irrigation and Drainage Paper 56.
2. The form of Baille, Baille and Laury 1994, Scientia Hort. 59:83, a simplified Penman-Monteith for potted
crops
   (from memory): latent heat = A (1 - exp(-k LAI)) light + B LAI deficit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wickwatch.agronomy.air import psychrometric_constant_kpa_per_degc, saturation_slope_kpa_per_degc
from wickwatch.agronomy.arrays import Floats, floats, not_negative, positive

LATENT_HEAT_J_PER_KG = 2.45e6  # FAO-56, annex 3


def wind_at_2_m(wind_m_per_s: ArrayLike, measured_at_m: ArrayLike) -> Floats:
    """Return wind speed [m/s] at 2 m from that measured at another height over grass (FAO-56 eq. 47)."""
    height = positive("height of the anemometer in m", measured_at_m)
    return floats(floats(wind_m_per_s) * 4.87 / np.log(67.8 * height - 5.42))


def monthly_soil_heat_flux_mj(mean_degc: ArrayLike, month_before_degc: ArrayLike) -> Floats:
    """Return soil heat flux G [MJ/m2/d] from this and last month's mean temperature (FAO-56 eq. 44)."""
    return 0.14 * (floats(mean_degc) - floats(month_before_degc))


def reference_evapotranspiration_mm(
    mean_degc: ArrayLike,
    net_radiation_mj: ArrayLike,
    *,
    wind_2m_m_per_s: ArrayLike,
    saturation_kpa: ArrayLike,
    vapour_kpa: ArrayLike,
    pressure_kpa: ArrayLike,
    soil_heat_mj: ArrayLike = 0.0,
) -> Floats:
    """Return daily reference evapotranspiration ET0 [mm/d] (FAO-56 Penman-Monteith, eq. 6).

    Net radiation and soil heat flux in MJ/m2/d; `saturation_kpa` and `vapour_kpa` are the day's es and ea.
    """
    temperature, wind = floats(mean_degc), floats(wind_2m_m_per_s)
    slope = saturation_slope_kpa_per_degc(temperature)
    gamma = psychrometric_constant_kpa_per_degc(pressure_kpa)
    energy = 0.408 * slope * (floats(net_radiation_mj) - floats(soil_heat_mj))
    drying = gamma * 900.0 / (temperature + 273.0) * wind * (floats(saturation_kpa) - floats(vapour_kpa))
    return (energy + drying) / (slope + gamma * (1.0 + 0.34 * wind))


@dataclass(frozen=True)
class Crop:
    """Coefficients of a crop's transpiration.

    `light_share` A, the share of intercepted light turned into vapour; `deficit_w_per_m2_kpa` B per unit leaf
    area by day and by night, when stomata are mostly closed; `extinction` k of the canopy. The defaults are
    mid-range values for leafy pot plants, from memory.
    """

    light_share: float = 0.5
    day_deficit_w_per_m2_kpa: float = 20.0
    night_deficit_w_per_m2_kpa: float = 6.0
    extinction: float = 0.64


def container_demand_l_per_h(
    crop: Crop,
    deficit_kpa: ArrayLike,
    light_w_per_m2: ArrayLike,
    leaf_area_index: ArrayLike,
    area_m2: ArrayLike,
) -> Floats:
    """Return the water [l/h] that one container's plants take.

    `deficit_kpa` of the room's air; `light_w_per_m2` short-wave light on the canopy, 0 in the dark;
    `leaf_area_index` leaf area per floor area; `area_m2` floor area the container's canopy covers. All
    broadcast; raises InputError for negative ones.
    """
    deficit = not_negative("deficit in kPa", deficit_kpa)
    light = not_negative("light in W/m2", light_w_per_m2)
    leaves = not_negative("leaf area index", leaf_area_index)
    intercepted = 1.0 - np.exp(-crop.extinction * leaves)
    per_kpa = np.where(light > 0.0, crop.day_deficit_w_per_m2_kpa, crop.night_deficit_w_per_m2_kpa)
    heat_w_per_m2 = crop.light_share * intercepted * light + per_kpa * leaves * deficit
    litres_per_m2_h = heat_w_per_m2 / LATENT_HEAT_J_PER_KG * 3600.0
    return floats(litres_per_m2_h * not_negative("area in m2", area_m2))

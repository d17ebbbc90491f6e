"""Water in containers: retention, spreading from the drip point, drainage near container capacity, uptake by plants.

All functions work on every container of the fleet at once (arrays of shape (M,), litres, mbar, hours). The retention
formula is written out here, with one parameter set per container, because it runs every simulated minute; its
parameters and container capacity come from `wickwatch.agronomy`. Not here: where water comes from (`emitters`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wickwatch.agronomy.arrays import Floats
from wickwatch.agronomy.container import container_capacity
from wickwatch.agronomy.media import medium
from wickwatch.agronomy.units import cm_water_from_mbar

#: Gravity drainage above container capacity: time constant; potting media drain in minutes (common practice).
DRAIN_H = 10.0 / 60.0
#: Uptake is full up to the first tension and nil at the second (shape of Feddes et al. 1978; figures for potting
#: media chosen here, as plants in them suffer early).
STRESS_MBAR = (300.0, 5000.0)
#: Water content over which the curve swings from drying to wetting branch; chosen here.
SCAN_THETA = 0.02


@dataclass(frozen=True)
class Soil:
    """Parameters of each container's medium, all of shape (M,)."""

    residual_l: Floats
    span_l: Floats
    alpha_per_mbar: Floats
    inverse_m: Floats
    inverse_n: Floats
    volume_l: Floats
    capacity_l: Floats
    saturated_l: Floats
    wetting_share: Floats


def soil(media: Sequence[str], volume_l: Floats, height_mm: Floats, wetting_share: Floats) -> Soil:
    """Parameters of containers from their medium's name, volume and height; raises InputError for an unknown medium.

    `wetting_share` is tension on the wetting branch / tension on the drying branch at equal water; 1 is no hysteresis.
    """
    known = [medium(name) for name in media]
    n = np.array([k.n for k in known])
    theta_r, theta_s = np.array([k.theta_r for k in known]), np.array([k.theta_s for k in known])
    alpha = np.array([k.alpha_per_cm for k in known]) * float(cm_water_from_mbar(1.0))
    capacity = np.array([float(container_capacity(k, h)) for k, h in zip(known, height_mm, strict=True)])
    return Soil(
        residual_l=theta_r * volume_l,
        span_l=(theta_s - theta_r) * volume_l,
        alpha_per_mbar=alpha,
        inverse_m=1.0 / (1.0 - 1.0 / n),
        inverse_n=1.0 / n,
        volume_l=volume_l,
        capacity_l=capacity * volume_l,
        saturated_l=theta_s * volume_l,
        wetting_share=wetting_share,
    )


def drying_tension(soil: Soil, water_l: Floats) -> Floats:
    """Tension [mbar] on the main drying curve at this much water (van Genuchten 1980)."""
    share = np.minimum(np.maximum((water_l - soil.residual_l) / soil.span_l, 1e-9), 1.0)
    return np.asarray((share**-soil.inverse_m - 1.0) ** soil.inverse_n / soil.alpha_per_mbar)


def water_at(soil: Soil, tension_mbar: Floats) -> Floats:
    """Water [l] on the drying curve at a tension [mbar]; the inverse of `drying_tension`."""
    share = (1.0 + (soil.alpha_per_mbar * tension_mbar) ** (1.0 / soil.inverse_n)) ** (-1.0 / soil.inverse_m)
    return np.asarray(soil.residual_l + soil.span_l * share)


def branch(soil: Soil, position: Floats, gained_l: Floats) -> Floats:
    """Position between the drying branch (1) and the wetting branch (`wetting_share`) after gaining water [l].

    Moves with water content and stops at either branch, so it does not depend on speed or step: hysteresis.
    """
    moved = position - gained_l / soil.volume_l * ((1.0 - soil.wetting_share) / SCAN_THETA)
    return np.minimum(np.maximum(moved, soil.wetting_share), 1.0)


def drained(soil: Soil, water_l: Floats, hours: float) -> Floats:
    """Water [l] that runs out below in this time: what stands above capacity, and at once what does not fit."""
    over = np.maximum(water_l - soil.capacity_l, 0.0)
    return np.asarray(np.maximum(over * -np.expm1(-hours / DRAIN_H), water_l - soil.saturated_l))


def uptake_share(tension_mbar: Floats) -> Floats:
    """Share of its demand that a plant still gets at a tension [mbar]."""
    full, none = STRESS_MBAR
    return np.minimum(np.maximum((none - tension_mbar) * (1.0 / (none - full)), 0.0), 1.0)

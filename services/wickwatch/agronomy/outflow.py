"""How long a tank lasts: freely running out of a hole, or drawn at a steady rate.

Here: Torricelli's law and its integral over any tank shape, and the constant-draw time. Not here: estimating
a draw from readings (`draw`, `forecast`). The two models are kept apart because a straight line through a
draining tank gives half its true time.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wickwatch.agronomy.arrays import Floats, floats, not_negative, positive_number
from wickwatch.agronomy.tank import Tank
from wickwatch.agronomy.water import GRAVITY_M_PER_S2
from wickwatch.errors import InputError

# Sharp-edged round orifice (handbooks).
SHARP_EDGE = 0.61

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(64)


def outflow_speed_m_per_s(head_mm: ArrayLike) -> Floats:
    """Return the speed [m/s] of a free jet under a head [mm of water]: sqrt(2 g h) (Torricelli)."""
    return floats(np.sqrt(2.0 * GRAVITY_M_PER_S2 * not_negative("head in mm", head_mm) / 1000.0))


def orifice_flow_l_per_h(head_mm: ArrayLike, hole_mm2: ArrayLike, coefficient: float = SHARP_EDGE) -> Floats:
    """Return the flow [l/h] out of a hole of area [mm2] under a head [mm], with its discharge coefficient."""
    hole = not_negative("hole in mm2", hole_mm2)
    return coefficient * hole * outflow_speed_m_per_s(head_mm) * 3.6


def draining_time_s(
    tank: Tank,
    from_level_mm: float,
    to_level_mm: float,
    hole_mm2: float,
    *,
    coefficient: float = SHARP_EDGE,
    hole_level_mm: float = 0.0,
) -> float:
    """Return the time [s] in which a tank runs out through a hole, from one level down to another.

    Levels count from the tank's bottom. Integrates dV / outflow over the square root of the head, in which
    the integrand has no pole at the hole. Raises InputError unless from >= to >= hole.
    """
    if not from_level_mm >= to_level_mm >= hole_level_mm:
        levels = (from_level_mm, to_level_mm, hole_level_mm)
        raise InputError("levels in mm", levels, "from at or above to, and to at or above the hole")
    high, low = np.sqrt(from_level_mm - hole_level_mm), np.sqrt(to_level_mm - hole_level_mm)
    root = (high + low) / 2.0 + (high - low) / 2.0 * _NODES
    area = tank.area_mm2(hole_level_mm + root**2)
    swept = float(np.sum(_WEIGHTS * area)) * (high - low) / 2.0
    # dh/sqrt(h) = 2 d(sqrt h); lengths in mm throughout, hence gravity in mm/s2.
    hole = positive_number("coefficient times hole in mm2", coefficient * hole_mm2)
    return float(2.0 * swept / (hole * np.sqrt(2.0 * GRAVITY_M_PER_S2 * 1000.0)))


def steady_draw_time_h(volume_l: ArrayLike, draw_l_per_h: ArrayLike) -> Floats:
    """Return the hours a volume [l] lasts at a steady draw [l/h]; infinite where nothing is drawn."""
    volume = not_negative("volume in l", volume_l)
    draw = floats(draw_l_per_h)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(draw > 0.0, volume / draw, np.where(np.isnan(draw + volume), np.nan, np.inf))

"""Air and water in a pot or bed, from its medium's retention curve and its height.

Here: the growers' figures (container capacity, air-filled porosity, easily available water, buffering
capacity). Not here: the curve itself (`retention`). A container drains until its base is at zero tension, so
the tension at height z above the base is z cm of water and a shallow pot of the same mix stays wetter (Milks,
Fonteno and Larson 1989, JASHS 114:53).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wickwatch.agronomy.arrays import Floats, floats, positive
from wickwatch.agronomy.retention import VanGenuchten, theta
from wickwatch.agronomy.units import mbar_from_cm_water

# Heights and weights on (0, 1) for the mean over the profile; the curve is smooth, 32 nodes reach 1e-9.
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(32)
_HEIGHTS = (_NODES + 1.0) / 2.0


def container_capacity(medium: VanGenuchten, height_mm: ArrayLike, top_to_bottom: ArrayLike = 1.0) -> Floats:
    """Return the water share [m3/m3] a container keeps after watering and free drainage.

    `height_mm` of the medium, any shape; `top_to_bottom` the ratio of top to bottom diameter (1 = straight
    sides), which weighs each height by its area.
    """
    height_cm = positive("height_mm", height_mm)[..., np.newaxis] / 10.0
    taper = positive("top_to_bottom", top_to_bottom)[..., np.newaxis]
    area = _WEIGHTS * (1.0 + (taper - 1.0) * _HEIGHTS) ** 2
    water = theta(medium, mbar_from_cm_water(height_cm * _HEIGHTS))
    return floats(np.sum(area * water, axis=-1) / np.sum(area, axis=-1))


def air_filled_porosity(medium: VanGenuchten, height_mm: ArrayLike, top_to_bottom: ArrayLike = 1.0) -> Floats:
    """Return the air share [m3/m3] of a container after free drainage; arguments as `container_capacity`."""
    return medium.theta_s - container_capacity(medium, height_mm, top_to_bottom)


def air_capacity(medium: VanGenuchten) -> float:
    """Return air [m3/m3] at 10 cm tension: porosity minus theta(10 cm) (de Boodt and Verdonck 1972)."""
    return medium.theta_s - _theta_at_cm(medium, 10.0)


def easily_available_water(medium: VanGenuchten) -> float:
    """Return theta(10 cm) - theta(50 cm) [m3/m3] (de Boodt and Verdonck 1972)."""
    return _theta_at_cm(medium, 10.0) - _theta_at_cm(medium, 50.0)


def water_buffering_capacity(medium: VanGenuchten) -> float:
    """Return theta(50 cm) - theta(100 cm) [m3/m3] (de Boodt and Verdonck 1972)."""
    return _theta_at_cm(medium, 50.0) - _theta_at_cm(medium, 100.0)


def _theta_at_cm(medium: VanGenuchten, tension_cm: float) -> float:
    return float(theta(medium, mbar_from_cm_water(tension_cm)))

"""When a container that gets water it does not need begins to run over.

From its medium's retention curve: water still to go in until it drains as fast as it is given. Not here: how much it is
given.
"""

from __future__ import annotations

import math

import numpy as np

from wickwatch.agronomy.container import container_capacity
from wickwatch.agronomy.media import MEDIA
from wickwatch.agronomy.retention import theta
from wickwatch.fleet import Container


def hours_to_flood(container: Container, tension_mbar: float, excess_l_per_h: float) -> float:
    """Hours until the container holds what it can; 0 where it does already, NaN where it can't be told.

    A pot is taken to be as high as wide (common practice), which only matters for how much it holds after draining.
    """
    medium = MEDIA.get(container.medium or "")
    if medium is None or container.volume_l is None or not excess_l_per_h > 0 or not np.isfinite(tension_mbar):
        return math.nan
    height_mm = (container.volume_l * 1e6 * 4 / math.pi) ** (1 / 3)
    room = float(container_capacity(medium, height_mm) - theta(medium, max(tension_mbar, 0.0))) * container.volume_l
    return max(room, 0.0) / excess_l_per_h

"""Containers that stay as wet as water left them, though their plants drink: somebody waters them still.

Where no level tells whose water it is, a container that fills faster than a can pours looks like one. But what a can
gave is drunk: in the hours of light that follow a container loses what it usually does in as many. One that has lost
next to nothing of it is watered on. Not here: the fall itself (`fall`), nor where a level tells (`sudden_wetting`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.media import MEDIA
from wickwatch.agronomy.retention import theta
from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.frame import FINE_PER_H
from wickwatch.detect.layout import NONE
from wickwatch.detect.sight import Sight
from wickwatch.detect.usual_speed import usual_rises
from wickwatch.detect.window import cut


def stays_wet(
    sight: Sight, which: NDArray[np.int64], fine: NDArray[np.float32], onset: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """Where containers `which` (N,) have lost next to nothing since water came after column `onset` (N,) of `fine`.

    False where too few hours have passed, or too little is known of how they usually dry.
    """
    return np.array([_stays(sight, *each) for each in zip(which, fine, onset, strict=True)], dtype=np.bool_)


def _stays(sight: Sight, number: int, fine: NDArray[np.float32], onset: int) -> bool:
    begin = onset + round(c.STAYS_AFTER_H * FINE_PER_H)
    if onset < 0 or len(fine) - begin < c.STAYS_LEAST_H * FINE_PER_H:
        return False
    filled, now = (float(nanmedian(each)) for each in (fine[begin : begin + c.NOW_STEPS], fine[-c.NOW_STEPS :]))
    hours = int((len(fine) - begin) / FINE_PER_H)
    usual_mbar, rise_mbar = _usually(sight, number, hours)
    if not rise_mbar >= c.STAYS_RISE_MBAR:
        return False
    medium = MEDIA.get(sight.place.containers[number].medium or "", MEDIA[c.STAYS_MEDIUM])
    gone = theta(medium, np.maximum([filled, now, usual_mbar, usual_mbar + 1.0], c.WATER_FROM_MBAR))
    drunk = (gone[2] - gone[3]) * rise_mbar
    return bool(gone[0] - gone[1] < c.STAYS_SHARE * drunk)


def _usually(sight: Sight, number: int, hours: int) -> tuple[float, float]:
    """A container's usual tension, and by how much it rises in as many hours as the last ones if nothing waters it."""
    place = sight.place
    group = place.line_of if place.line_of[number] != NONE else place.room_of
    alike = np.flatnonzero((group == group[number]) & sight.tension.known)
    hourly = cut(sight.frame.coarse, sight.tension.row[alike], place.tension.since[alike])
    own = int(np.searchsorted(alike, number))
    rise_mbar = float(usual_rises(sight, hourly, hours)[own].sum())
    return float(nanmedian(hourly[own, : -c.STAYS_IGNORES_H])), rise_mbar

"""Which containers may have drawn from their reservoir: all but those that are wetter than their emitter leaves them.

An emitter stays closed while its container is wet, however much its plants drink: after somebody walked round with a
can, a room draws next to nothing for a day, and what leaves its reservoir then, nothing takes. Not here: how much a
reservoir usually gives (`draws`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import constants as c
from wickwatch.detect.habits import habits
from wickwatch.detect.layout import NONE
from wickwatch.detect.sight import Sight
from wickwatch.detect.window import cut


def thirsty(sight: Sight) -> NDArray[np.float64]:
    """Share of each reservoir's containers that may have drawn in each of the last whole hours, (R, WEATHER_HOURS).

    Of those that were watered of late; 1 unless most of them were wet, and where there is none.
    """
    return sight.once_an_hour("thirst", lambda: _thirsty(sight))


def _thirsty(sight: Sight) -> NDArray[np.float64]:
    place, reservoirs = sight.place, len(sight.place.reservoirs)
    which = np.flatnonzero(place.reservoir_of != NONE)
    known = habits(sight, which)
    drinks = np.isfinite(known.watered_at)
    which, weight = which[drinks], place.stands_for[which[drinks]].astype(np.float64)
    least = np.fmin(known.peak_lately, known.watered_at) - known.usual_fall - c.TURN_MBAR
    highest = cut(sight.frame.coarse, sight.tension.row[which], place.tension.since[which], c.WEATHER_HOURS, "high")
    with np.errstate(invalid="ignore"):
        wet = highest < least[drinks, np.newaxis]
    of = np.bincount(place.reservoir_of[which], weight, reservoirs)
    not_now = np.zeros((reservoirs, wet.shape[1]))
    np.add.at(not_now, place.reservoir_of[which], wet * weight[:, np.newaxis])
    share = not_now / np.where(of > 0.0, of, 1.0)[:, np.newaxis]
    return np.where(share > c.WET_MOST, 1.0 - share, 1.0)

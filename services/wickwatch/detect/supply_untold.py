"""Lines of which it can't be told now whether they are cut off: too few probes speak, or somebody poured water.

What was found of such a line holds on. A gateway that is silent for an hour mends no valve, nor do cans: the containers
of a cut line that were watered by hand are wet for a day, and only dry again or are watered after that. Where the line
is open again its reservoir gives all that they lacked, far more than usual, within hours. Not here: finding a line that
is cut off (`supply_interrupted`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import constants as c
from wickwatch.detect.excess import excess
from wickwatch.detect.habits import habits
from wickwatch.detect.layout import NONE
from wickwatch.detect.sight import Sight
from wickwatch.detect.supply_interrupted import usual_top
from wickwatch.detect.window import cut, numbers


def untold(sight: Sight) -> list[int]:
    """Numbers of lines of which nothing can be told."""
    place, lines = sight.place, len(sight.place.lines)
    on_line = place.line_of != NONE
    attached = np.bincount(place.line_of[on_line & sight.tension.attached], minlength=lines)
    known = np.bincount(place.line_of[on_line & sight.tension.known], minlength=lines)
    few = (attached >= c.SUPPLY_LEAST) & (known < np.maximum(c.SUPPLY_SHARE * attached, c.SUPPLY_LEAST))
    wet = sight.once_an_hour("fell deep", lambda: _fell_deep(sight))
    poured = np.bincount(place.line_of[wet], minlength=lines) >= np.maximum(c.SUPPLY_HOLD_SHARE * known, c.SUPPLY_LEAST)
    return numbers(
        few | np.isin(np.arange(lines), [line for line in numbers(poured & ~few) if _none_came(sight, line)])
    )


def _fell_deep(sight: Sight) -> NDArray[np.int64]:
    """Containers on lines that stood dry within the last hours and have been watered as no emitter does since."""
    place = sight.place
    which = np.flatnonzero(sight.tension.known & (place.line_of != NONE))
    known = habits(sight, which)
    since = np.fmax(place.tension.since[which], sight.settling.history_from[which])
    hourly = cut(sight.frame.coarse, sight.tension.row[which], since, c.SUPPLY_POURED_H)
    with np.errstate(invalid="ignore"):
        dry = np.fmax.reduce(hourly, axis=1) >= usual_top(known) + c.SUPPLY_MARGIN_MBAR
        deep = np.fmax.reduce(np.fmax.accumulate(hourly, axis=1) - hourly, axis=1)
        return np.asarray(which[dry & (deep >= c.DEEP_FALLS * known.usual_fall)])


def _none_came(sight: Sight, line: int) -> bool:
    """Whether the reservoir of a line has at no time of late given much more than usual."""
    reservoir = int(sight.place.line_reservoir[line])
    if reservoir == NONE or not sight.level.known[reservoir]:
        return False
    until = np.arange(0.0, c.SUPPLY_POURED_H, c.SUPPLY_BURST_H / 2.0)
    seen = excess(sight, np.full(len(until), reservoir), c.SUPPLY_BURST_H, until)
    return bool(np.isfinite(seen.l_per_h).any() and not seen.significant.any())

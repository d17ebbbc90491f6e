"""Lines of which it can't be told now whether they are cut off: too few probes speak, water was poured, or many dry.

What was found of such a line holds on. A gateway that is silent for an hour mends no valve, nor do cans: the containers
of a cut line that were watered by hand are wet for a day, and only dry again or are watered after that. Where the line
is open again its reservoir gives all that they lacked, far more than usual, within hours. Those that still stand high
have not had their water yet, whatever makes them tell nothing of their line: in the dark none is due, and very dry ones
grow wetter by themselves; where plants were cut back they dry as slowly as behind an emitter that creeps.
Not here: finding a line that is cut off (`supply_interrupted`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import constants as c
from wickwatch.detect.excess import excess
from wickwatch.detect.fall import deepest_fall
from wickwatch.detect.habits import above_usual_by_line, habits
from wickwatch.detect.layout import NONE
from wickwatch.detect.sight import Sight
from wickwatch.detect.window import cut, numbers


def untold(sight: Sight) -> list[int]:
    """Numbers of lines of which nothing can be told."""
    place, lines = sight.place, len(sight.place.lines)
    on_line = place.line_of != NONE
    attached = np.bincount(place.line_of[on_line & sight.tension.attached], minlength=lines)
    known = np.bincount(place.line_of[on_line & sight.tension.known], minlength=lines)
    few = (attached >= c.SUPPLY_LEAST) & (known < np.maximum(c.SUPPLY_SHARE * attached, c.SUPPLY_LEAST))
    deep = sight.once_an_hour("fell deep", lambda: _fell_deep(sight))
    wet = deep[sight.tension.known[deep]]
    enough = np.maximum(c.SUPPLY_HOLD_SHARE * known, c.SUPPLY_LEAST)
    poured = np.bincount(place.line_of[wet], minlength=lines) >= enough
    stand = above_usual_by_line(sight, c.SUPPLY_MARGIN_MBAR)
    stand_on = stand >= np.maximum(c.SUPPLY_STANDS_SHARE * known, c.SUPPLY_LEAST)
    return [line for line in numbers(few | poured | stand_on) if few[line] or stand_on[line] or _none_came(sight, line)]


def _fell_deep(sight: Sight) -> NDArray[np.int64]:
    """Containers on lines that stood dry within the last hours and have been watered as no emitter does since."""
    place = sight.place
    which = np.flatnonzero(sight.tension.attached & (place.line_of != NONE))
    known = habits(sight, which)
    since = np.fmax(place.tension.since[which], sight.settling.history_from[which])
    hourly = cut(sight.frame.coarse, sight.tension.row[which], since, c.SUPPLY_POURED_H)
    with np.errstate(invalid="ignore"):
        dry = np.fmax.reduce(hourly, axis=1) >= known.usual_top + c.SUPPLY_MARGIN_MBAR
        return np.asarray(which[dry & (deepest_fall(hourly) >= c.DEEP_FALLS * known.usual_fall)])


def _none_came(sight: Sight, line: int) -> bool:
    """Whether the reservoir of a line has at no time of late given much more than usual."""
    reservoir = int(sight.place.line_reservoir[line])
    if reservoir == NONE or not sight.level.known[reservoir]:
        return False
    until = np.arange(0.0, c.SUPPLY_POURED_H, c.SUPPLY_BURST_H / 2.0)
    seen = excess(sight, np.full(len(until), reservoir), c.SUPPLY_BURST_H, until)
    return bool(np.isfinite(seen.l_per_h).any() and not seen.significant.any())

"""When each reservoir really was low or empty, whatever the reason: a fault, a forgetful week, a stuck emitter.

Looked at once per segment (empty) and once per hour (low). Low means that what is usable lasts less than `LOW_HOURS` at
the draw of the last 24 hours. Not here: the planned event behind it, if any (`truth`).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from wickwatch.agronomy.arrays import Floats
from wickwatch_simulator.engine import Sampled
from wickwatch_simulator.world import State, World

LOW_HOURS = 24.0
#: A spell ends once this much more than its limit is there, so that it does not flicker.
OVER_AGAIN = 1.5
SPELLS = ("low-water", "ran-dry")


@dataclass
class WaterWatch:
    """Spells as rows [kind (index into SPELLS), reservoir, from, to], times in seconds, `to` NaN while it lasts.

    `hourly_l` is all that has left each reservoir at each of the last 24 hours, `per_hour_l` the mean of that day.
    """

    hourly_l: Floats
    per_hour_l: Floats
    rows: list[list[float]] = field(default_factory=list)

    def running(self, kind: int, reservoir: int) -> list[float] | None:
        """The spell of this kind that lasts, if one does."""
        return next((r for r in reversed(self.rows) if r[0] == kind and r[1] == reservoir and np.isnan(r[3])), None)


def water_watch(w: World) -> WaterWatch:
    """Nothing seen yet; the last day's outflow is not known."""
    return WaterWatch(np.full((24, len(w.reservoir_plans)), np.nan), np.full(len(w.reservoir_plans), np.nan))


def look(watch: WaterWatch, w: World, s: State, got: Sampled, end_s: int) -> None:
    """Look at one segment that ended at `end_s`."""
    tanks = w.tanks
    if len(got.at_s):
        dry = got.level_mm <= tanks.outlet_mm + tanks.head_mm
        for i in np.flatnonzero(dry.any(axis=0)):
            if watch.running(1, int(i)) is None:
                watch.rows.append([1.0, float(i), float(got.at_s[np.argmax(dry[:, i])]), np.nan])
    over = s.volume_l > tanks.empty_l + 0.01 * tanks.full_l
    for row in watch.rows:
        if row[0] == 1 and np.isnan(row[3]) and over[int(row[1])]:
            row[3] = float(end_s)
    if end_s % 3600 == 0:
        _hourly(watch, w, s, end_s)


def _hourly(watch: WaterWatch, w: World, s: State, end_s: int) -> None:
    slot = end_s // 3600 % 24
    gone = s.drawn_l + s.evaporated_l + s.leaked_l
    watch.per_hour_l = per_hour = (gone - watch.hourly_l[slot]) / 24.0
    watch.hourly_l[slot] = gone
    usable = np.maximum(s.volume_l - w.tanks.empty_l, 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        hours = np.where(per_hour > 0, usable / per_hour, np.nan)
    for i in np.flatnonzero(hours < LOW_HOURS):
        if watch.running(0, int(i)) is None:
            watch.rows.append([0.0, float(i), float(end_s), np.nan])
    for row in watch.rows:
        if row[0] == 0 and np.isnan(row[3]) and hours[int(row[1])] > OVER_AGAIN * LOW_HOURS:
            row[3] = float(end_s)

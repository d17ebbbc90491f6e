"""What faults of instruments do to readings, and which readings never come.

Each works on one channel's column over the k sampled moments at which it is in force. Not here: physics (`effects`).
"""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Bools
from wickwatch_simulator.placed import Placed
from wickwatch_simulator.records import Records

#: Columns of any float; noise is kept in single precision.
Reals: TypeAlias = NDArray[np.floating[Any]]

#: Charge at which a low battery's story begins [%], at which its device begins to miss readings, and at which it stops.
LOW_BATTERY = (20.0, 15.0, 2.0)
#: Decline of such a battery before.
SLOW_PERCENT_PER_DAY = 0.3
#: Charge from which a battery counts as low; the truth dates a low battery from it.
BATTERY_LOW_PERCENT = 10.0


def changed(event: Placed, values: Reals, hours: Reals, noise: Reals, records: Records) -> Reals:
    """A tension column (k,) under an event, from what the probe would show, hours since its beginning, normal noise."""
    v = event.values
    if event.event == "flat-probe":
        return np.full_like(values, held(event, values, records))
    if event.event == "out-of-range-probe":
        return np.asarray(v["reading_mbar"] + 0.3 * noise)
    if event.event == "noisy-probe":
        return np.asarray(values + v["noise_mbar"] * noise)
    if event.event == "probe-drift":
        return np.asarray(values + v["mbar_per_day"] * hours / 24.0)
    if event.event == "probe-moved":
        # Out of one pot and into another: for some minutes the cup is in air and dries.
        lifted = 60.0 * np.exp(-hours / 0.3)
        return np.asarray(values + v["offset_mbar"] + lifted)
    if event.event == "air-entry":
        climb = np.minimum(hours / v["climb_hours"], 1.0)
        gone = np.maximum(hours - v["climb_hours"] - 2.0, 0.0)
        return np.asarray((values + (v["plateau_mbar"] - values) * climb) * np.exp(-gone / v["fall_hours"]))
    return values


def held(event: Placed, values: Reals, records: Records) -> float:
    """The reading a stuck instrument shows: its first one under the event."""
    if np.isnan(records.held[event.number]):
        records.held[event.number] = values[0]
    return float(records.held[event.number])


def splashed(event: Placed, level_mm: Reals, hours: Reals, noise: Reals) -> Reals:
    """A level column while water splashes about: waves that die away."""
    fading = np.exp(-hours / max(event.hours / 3.0, 1e-6))
    return np.asarray(level_mm + event.values["noise_mm"] * noise * fading)


def charge(event: Placed, hours: Reals) -> Reals:
    """Charge [%] of a device whose battery runs low; a slow decline before, a fast one after the beginning."""
    start, rate = LOW_BATTERY[0], event.values["percent_per_day"]
    before = np.minimum(start - SLOW_PERCENT_PER_DAY * hours / 24.0, 100.0)
    return np.asarray(np.where(hours < 0, before, np.maximum(start - rate * hours / 24.0, 0.0)))


def missing(event: Placed, hours: Reals, uniform: Reals) -> Bools:
    """Which readings of the device do not come, (k,)."""
    if event.event == "silent-probe":
        return np.ones(len(hours), dtype=np.bool_)
    if event.event == "low-battery":
        left = charge(event, hours)
        return (left < LOW_BATTERY[2]) | ((left < LOW_BATTERY[1]) & (uniform < event.values["gap_share"]))
    return np.zeros(len(hours), dtype=np.bool_)

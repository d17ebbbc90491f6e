"""What faults of instruments do to readings, and which readings never come.

Each works on one channel's column over the k sampled moments at which it is in force. Not here: physics (`effects`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Bools, Floats
from wickwatch_simulator.placed import Placed
from wickwatch_simulator.records import Records

#: Charge at which a low battery's story begins [%], at which its device begins to miss readings, and at which it stops.
LOW_BATTERY = (20.0, 15.0, 2.0)
#: Charge from which a battery counts as low; the truth dates a low battery from it.
BATTERY_LOW_PERCENT = 10.0


def changed(event: Placed, values: Floats, hours: Floats, noise: Floats, records: Records) -> Floats:
    """A tension column under an event: `values` (k,) as the probe would show, `hours` since its beginning, standard `noise`."""
    v = event.values
    if event.event == "flat-probe":
        return np.full_like(values, held(event, values, records))
    if event.event == "out-of-range-probe":
        return v["reading_mbar"] + 0.3 * noise
    if event.event == "noisy-probe":
        return values + v["noise_mbar"] * noise
    if event.event == "probe-drift":
        return values + v["mbar_per_day"] * hours / 24.0
    if event.event == "probe-moved":
        # Out of one pot and into another: for some minutes the cup is in air and dries.
        lifted = 60.0 * np.exp(-hours / 0.3)
        return values + v["offset_mbar"] + lifted
    if event.event == "air-entry":
        climb = np.minimum(hours / v["climb_hours"], 1.0)
        gone = np.maximum(hours - v["climb_hours"] - 2.0, 0.0)
        return (values + (v["plateau_mbar"] - values) * climb) * np.exp(-gone / v["fall_hours"])
    return values


def held(event: Placed, values: Floats, records: Records) -> float:
    """The reading a stuck instrument shows: its first one under the event."""
    if np.isnan(records.held[event.number]):
        records.held[event.number] = values[0]
    return float(records.held[event.number])


def splashed(event: Placed, level_mm: Floats, hours: Floats, noise: Floats) -> Floats:
    """A level column while water splashes about: waves that die away."""
    return level_mm + event.values["noise_mm"] * noise * np.exp(-hours / max(event.hours / 3.0, 1e-6))


def charge(event: Placed, hours: Floats) -> Floats:
    """Charge [%] of a device whose battery runs low; a slow decline before, a fast one after the beginning."""
    start, rate = LOW_BATTERY[0], event.values["percent_per_day"]
    return np.where(hours < 0, np.minimum(start - 0.3 * hours / 24.0, 100.0), np.maximum(start - rate * hours / 24.0, 0.0))


def missing(event: Placed, hours: Floats, uniform: NDArray[np.float32]) -> Bools:
    """Which readings of the device do not come, (k,)."""
    if event.event == "silent-probe":
        return np.ones(len(hours), dtype=np.bool_)
    if event.event == "low-battery":
        left = charge(event, hours)
        return (left < LOW_BATTERY[2]) | ((left < LOW_BATTERY[1]) & (uniform < event.values["gap_share"]))
    return np.zeros(len(hours), dtype=np.bool_)

"""Instruments: what a probe, a level sensor and a room's sensor read when the truth is known.

Arrays of shape (k, channels) over k sampled moments. Here are the everyday errors: offset, temperature, noise,
resolution, air entry. Faults are in `probe_events`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Bools, Floats
from wickwatch_simulator import keyed
from wickwatch_simulator.plan import Probe, Reservoir

#: Temperature at which a probe's offset is stated.
REFERENCE_DEGC = 22.0
#: After air entry a probe holds near its limit, then falls (Vaz et al. 2013: air enters, the reading breaks down).
PLATEAU_H, FALL_H = 3.0, 1.5
#: A probe that has lost its water is refilled by somebody after this, once its container is wet again.
REFILLED_AFTER_H, REFILLED_BELOW_MBAR = 24.0, 300.0


def noise(seed: int, purpose: str, hour: int, interval_s: int, count: int) -> NDArray[np.float32]:
    """Standard normal noise of one hour of readings, shape (3600 / interval, count)."""
    return keyed.generator(seed, f"{purpose} {interval_s}", hour).standard_normal(
        (3600 // interval_s, count), dtype=np.float32
    )


def rounded(values: Floats, resolution: Floats) -> Floats:
    """Values to the steps an instrument shows; re-rounded in decimals so that no binary tail is published."""
    return np.round(np.round(values / resolution) * resolution, 4)


class Tensiometers:
    """Properties of all probes as arrays of shape (P,); reads the tension of their containers."""

    def __init__(self, plans: Sequence[Probe]) -> None:
        self.offset = np.array([p.offset_mbar for p in plans])
        self.per_degc = np.array([p.temperature_mbar_per_degc for p in plans])
        self.sigma = np.array([p.noise_mbar for p in plans])
        self.resolution = np.array([p.resolution_mbar for p in plans])
        self.air_entry = np.array([p.air_entry_mbar for p in plans])

    def read(self, tension_mbar: Floats, medium_degc: Floats, entered_h: Floats) -> Floats:
        """Readings before noise, (k, P), from true tension, medium temperature and hours since air entered.

        `entered_h` is negative or NaN where it has not.
        """
        shown = tension_mbar + self.offset + self.per_degc * (medium_degc - REFERENCE_DEGC)
        with np.errstate(invalid="ignore"):
            fallen = self.air_entry * np.exp(-np.maximum(entered_h - PLATEAU_H, 0.0) / FALL_H)
            return np.where(entered_h >= 0.0, fallen, np.minimum(shown, self.air_entry))

    def entered(self, since_s: Floats, tension_mbar: Floats, at_s: NDArray[np.int64]) -> Floats:
        """When air entered each probe, seen over one segment of true tension (k, P); NaN while it holds water."""
        refilled = (at_s[-1] - since_s > 3600 * REFILLED_AFTER_H) & (tension_mbar[-1] < REFILLED_BELOW_MBAR)
        since_s = np.where(refilled, np.nan, since_s)
        past = tension_mbar > self.air_entry
        first = at_s[np.argmax(past, axis=0)].astype(np.float64)
        return np.where(np.isnan(since_s) & past.any(axis=0), first, since_s)


def level_reading(plans: Sequence[Reservoir], level_mm: Floats) -> Floats:
    """Level over each sensor's zero [mm], (k, R)."""
    zero = np.array([p.sensor_zero_mm for p in plans])
    return rounded(level_mm - zero, np.array([p.resolution_mm for p in plans]))


def lost(shares: Floats, seed: int, hour: int, interval_s: int, rows: NDArray[np.intp]) -> Bools:
    """Which messages are lost at random, (k, C), given each channel's share of loss (C,)."""
    drawn = keyed.generator(seed, f"lost {interval_s}", hour).random(
        (3600 // interval_s, len(shares)), dtype=np.float32
    )
    return drawn[rows] < shares

"""A window of readings on regular grids: all that a detector may look at.

Two grids serve every kind: a fine one (5 minutes) for what happens within hours, and a coarse one (1 hour) for what
happens within weeks. The same frame is filled from rollups by the live watch and by a backtest, so that both judge
the same numbers. Not here: reading a database, nor any judgement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

FINE_STEP = np.timedelta64(5, "m")
FINE_STEPS = 2 * 288
COARSE_STEP = np.timedelta64(1, "h")
FINE_PER_H = int(COARSE_STEP / FINE_STEP)
COARSE_STEPS = 21 * 24


@dataclass(frozen=True)
class Grid:
    """Bucketed readings of C channels over T equal steps.

    `start` is the beginning of the first bucket (datetime64[us], UTC). `mean`, `low`, `high` are float32 of shape
    (C, T), NaN where a bucket holds no reading. `kept` is for what detectors make of the grid and may want again:
    whoever looks twice at buckets of the same channels that have not changed may give the same grid twice; changed ones
    need a new grid.
    """

    start: np.datetime64
    step: np.timedelta64
    mean: NDArray[np.float32]
    low: NDArray[np.float32]
    high: NDArray[np.float32]
    kept: dict[str, object] = field(default_factory=dict, compare=False, repr=False)

    @property
    def times(self) -> NDArray[np.datetime64]:
        """Beginning of each bucket, shape (T,)."""
        return self.start + np.arange(self.mean.shape[1]) * self.step


@dataclass(frozen=True)
class Frame:
    """Readings of one facility up to `as_of` (datetime64[us], UTC; nothing later is in it).

    The grids hold whole buckets only: the last one of each ended at or before `as_of`. So what is judged on a grid does
    not depend on where within a bucket the sweep fell, and a backtest sees what the live watch saw. What can't wait
    for a bucket to end is judged on the newest readings.
    `channels` are channel ids, ascending, shape (C,). `last_value` and `last_at` are the newest reading of each
    (NaN and NaT where there is none within the coarse grid), shape (C,).
    """

    as_of: np.datetime64
    channels: NDArray[np.int64]
    fine: Grid
    coarse: Grid
    last_value: NDArray[np.float64]
    last_at: NDArray[np.datetime64]

    def rows(self, channel_ids: Sequence[int] | NDArray[np.int64]) -> NDArray[np.int64]:
        """Row of each channel id, -1 where the frame has none; shape of the argument."""
        return rows_of(self.channels, np.asarray(channel_ids, dtype=np.int64))


def rows_of(channels: NDArray[np.int64], wanted: NDArray[np.int64]) -> NDArray[np.int64]:
    """Place of each wanted id in the ascending `channels`, -1 where it is none of them; shape of `wanted`."""
    if not len(channels):
        return np.full(wanted.shape, -1, dtype=np.int64)
    at = np.minimum(np.searchsorted(channels, wanted), len(channels) - 1)
    return np.where(channels[at] == wanted, at, -1)

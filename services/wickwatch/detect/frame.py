"""A window of readings on regular grids: all that a detector may look at.

Two grids serve every kind: a fine one (5 minutes) for what happens within hours, and a coarse one (1 hour) for what
happens within weeks. The same frame is filled from rollups by the live watch and by a backtest, so that both judge
the same numbers. Not here: reading a database, nor any judgement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FINE_STEP = np.timedelta64(5, "m")
FINE_STEPS = 2 * 288
COARSE_STEP = np.timedelta64(1, "h")
COARSE_STEPS = 21 * 24


@dataclass(frozen=True)
class Grid:
    """Bucketed readings of C channels over T equal steps.

    `start` is the beginning of the first bucket (datetime64[us], UTC). `mean`, `low`, `high` are float32 of shape
    (C, T), NaN where a bucket holds no reading. The last bucket may still be filling.
    """

    start: np.datetime64
    step: np.timedelta64
    mean: NDArray[np.float32]
    low: NDArray[np.float32]
    high: NDArray[np.float32]

    @property
    def times(self) -> NDArray[np.datetime64]:
        """Beginning of each bucket, shape (T,)."""
        return self.start + np.arange(self.mean.shape[1]) * self.step


@dataclass(frozen=True)
class Frame:
    """Readings of one facility up to `as_of` (datetime64[us], UTC; nothing later is in it).

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
        wanted = np.asarray(channel_ids, dtype=np.int64)
        if not len(self.channels):
            return np.full(wanted.shape, -1, dtype=np.int64)
        at = np.minimum(np.searchsorted(self.channels, wanted), len(self.channels) - 1)
        return np.where(self.channels[at] == wanted, at, -1)

"""Both grids of a facility and its newest readings, filled bucket by bucket and looked at as of a moment.

The grids have room to the right of the moment, so that buckets can be put in ahead (a backtest) or as they come (the
live window); what is looked at ends at the moment. Not here: where buckets come from.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import cast

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import Frame, Grid
from wickwatch.detect.frame import COARSE_STEP, COARSE_STEPS, FINE_STEP, FINE_STEPS, rows_of

_EPOCH = np.datetime64(0, "us")
_NEVER = np.datetime64("NaT", "us")


@dataclass
class _Buffer:
    """One grid with room to the right; column 0 is bucket number `first` (steps since 1970)."""

    step: np.timedelta64
    steps: int
    first: int
    mean: NDArray[np.float32]
    low: NDArray[np.float32]
    high: NDArray[np.float32]

    @classmethod
    def empty(cls, channels: int, step: np.timedelta64, steps: int, spare: int, end: int) -> _Buffer:
        shape = (channels, steps + spare)
        return cls(step, steps, end - steps, *(np.full(shape, np.nan, dtype=np.float32) for _ in range(3)))

    def put(self, rows: NDArray[np.int64], packed: NDArray[np.void]) -> None:
        columns = packed["bucket"].astype(np.int64) - self.first
        keep = (rows >= 0) & (columns >= 0) & (columns < self.mean.shape[1])
        rows, columns = rows[keep], columns[keep]
        for name, into in (("mean", self.mean), ("low", self.low), ("high", self.high)):
            into[rows, columns] = packed[name][keep]

    def make_room(self, end: int, last: int) -> None:
        """Let bucket `last` have a column, by moving left what stands before bucket `end` less the steps looked at."""
        width = self.mean.shape[1]
        if last - self.first < width:
            return
        shift = min(end - self.steps - self.first, width)
        for grid in (self.mean, self.low, self.high):
            grid[:, : width - shift] = grid[:, shift:]
            grid[:, width - shift :] = np.nan
        self.first = end - self.steps

    def view(self, end: int) -> Grid:
        """The whole buckets before bucket number `end`."""
        columns = slice(max(end - self.steps - self.first, 0), end - self.first)
        start = _EPOCH + (self.first + columns.start) * self.step
        return Grid(start, self.step, self.mean[:, columns], self.low[:, columns], self.high[:, columns])


class Grids:
    """Grids of the channels with ascending ids `channels`, as of `as_of` and later."""

    def __init__(self, channels: NDArray[np.int64], as_of: datetime, spare_hours: int) -> None:
        self.channels = channels
        now, count = stamp(as_of), len(channels)
        self._fine = _Buffer.empty(count, FINE_STEP, FINE_STEPS, spare_hours * 12, _bucket(now, FINE_STEP))
        self._coarse = _Buffer.empty(count, COARSE_STEP, COARSE_STEPS, spare_hours + 1, _bucket(now, COARSE_STEP))
        self._last_value = np.full(count, np.nan)
        self._last_at = np.full(count, _NEVER)

    def fine_from(self) -> datetime:
        """Beginning of the first fine bucket that is kept."""
        return _time(self._fine.first, FINE_STEP)

    def coarse_from(self) -> datetime:
        """Beginning of the first coarse bucket that is kept."""
        return _time(self._coarse.first, COARSE_STEP)

    def put_fine(self, packed: NDArray[np.void]) -> None:
        """Take 5-minute buckets (`store.frames.FINE_ROW`)."""
        self._fine.put(self._rows(packed), packed)

    def put_coarse(self, packed: NDArray[np.void]) -> None:
        """Take hourly buckets (`store.frames.COARSE_ROW`)."""
        self._coarse.put(self._rows(packed), packed)

    def put_newest(self, packed: NDArray[np.void]) -> None:
        """Take readings that may be the newest of their channels (fields channel, last, last_at)."""
        # Ascending order lets the newest of several win.
        packed = packed[np.argsort(packed["last_at"], kind="stable")]
        rows, at = self._rows(packed), packed["last_at"].astype("datetime64[us]")
        newer = (rows >= 0) & (np.isnat(self._last_at[rows]) | (at > self._last_at[rows]))
        self._last_at[rows[newer]] = at[newer]
        self._last_value[rows[newer]] = packed["last"][newer]

    def make_room(self, as_of: datetime, until: datetime) -> None:
        """Let buckets up to `until` have a place; what a look as of `as_of` or later does not reach may be dropped."""
        now, last = stamp(as_of), stamp(until)
        self._fine.make_room(_bucket(now, FINE_STEP), _bucket(last, FINE_STEP))
        self._coarse.make_room(_bucket(now, COARSE_STEP), _bucket(last, COARSE_STEP))

    def frame(self, as_of: datetime) -> Frame:
        """What detectors may look at as of a moment."""
        now = stamp(as_of)
        last_at = np.where(self._last_at < now - COARSE_STEPS * COARSE_STEP, _NEVER, self._last_at)
        return Frame(
            as_of=now,
            channels=self.channels,
            fine=self._fine.view(_bucket(now, FINE_STEP)),
            coarse=self._coarse.view(_bucket(now, COARSE_STEP)),
            last_value=np.where(np.isnat(last_at), np.nan, self._last_value),
            last_at=last_at,
        )

    def _rows(self, packed: NDArray[np.void]) -> NDArray[np.int64]:
        return rows_of(self.channels, packed["channel"].astype(np.int64))


def stamp(at: datetime) -> np.datetime64:
    """An aware time as numpy holds it: UTC without a zone."""
    return np.datetime64(at.astimezone(UTC).replace(tzinfo=None), "us")


def _bucket(at: np.datetime64, step: np.timedelta64) -> int:
    return int((at - _EPOCH) // step)


def _time(bucket: int, step: np.timedelta64) -> datetime:
    return cast(datetime, (_EPOCH + bucket * step).astype("datetime64[us]").item()).replace(tzinfo=UTC)

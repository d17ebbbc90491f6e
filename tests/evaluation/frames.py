"""Frames from readings in memory, as of any moment, without a database.

A `Record` holds the grids of a whole run, filled chunk by chunk; a frame is a slice of them, so that months of many
rooms are replayed in seconds. Buckets are those of the store's rollups: 5 minutes and 1 hour from 1970 on, whole ones.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect.frame import COARSE_STEP, COARSE_STEPS, FINE_STEP, FINE_STEPS, Frame, Grid

_EPOCH = np.datetime64(0, "us")
_NEVER = np.datetime64("NaT", "us")


@dataclass
class _Buckets:
    """Sums, extremes and newest readings of C channels over T buckets from bucket number `first` on."""

    step: np.timedelta64
    first: int
    count: NDArray[np.int32]
    total: NDArray[np.float64]
    low: NDArray[np.float32]
    high: NDArray[np.float32]

    @classmethod
    def empty(cls, channels: int, step: np.timedelta64, start: np.datetime64, end: np.datetime64) -> _Buckets:
        first, last = int((start - _EPOCH) // step), int((end - _EPOCH) // step)
        shape = (channels, last - first + 1)
        return cls(
            step,
            first,
            np.zeros(shape, dtype=np.int32),
            np.zeros(shape),
            np.full(shape, np.inf, dtype=np.float32),
            np.full(shape, -np.inf, dtype=np.float32),
        )

    def column(self, at: NDArray[np.datetime64]) -> NDArray[np.int64]:
        return ((at - _EPOCH) // self.step).astype(np.int64) - self.first

    def add(self, channel: NDArray[np.int64], at: NDArray[np.datetime64], value: NDArray[np.float64]) -> None:
        width = self.count.shape[1]
        key = channel * width + self.column(at)
        self.count += np.bincount(key, minlength=self.count.size).astype(np.int32).reshape(self.count.shape)
        self.total += np.bincount(key, weights=value, minlength=self.count.size).reshape(self.count.shape)
        np.minimum.at(self.low.reshape(-1), key, value.astype(np.float32))
        np.maximum.at(self.high.reshape(-1), key, value.astype(np.float32))

    def emptied(self) -> _Buckets:
        """Buckets of the same times for no channel."""
        parts = (self.count, self.total, self.low, self.high)
        return _Buckets(self.step, self.first, *(each[:0].copy() for each in parts))

    def seal(self) -> _Whole:
        """The same as means with NaN where a bucket holds nothing: what frames are slices of."""
        some = self.count > 0
        none = np.float32(np.nan)
        mean = np.where(some, self.total / np.maximum(self.count, 1), np.nan).astype(np.float32)
        low, high = np.where(some, self.low, none), np.where(some, self.high, none)
        return _Whole(self.step, self.first, mean, low, high)


@dataclass(frozen=True)
class _Whole:
    """Means and extremes of C channels over T buckets from bucket number `first` on."""

    step: np.timedelta64
    first: int
    mean: NDArray[np.float32]
    low: NDArray[np.float32]
    high: NDArray[np.float32]

    def grid(self, as_of: np.datetime64, steps: int) -> Grid:
        """The `steps` whole buckets before `as_of`; those before the record began are empty."""
        end = int((as_of - _EPOCH) // self.step) - self.first
        left = end - steps
        start = _EPOCH + (self.first + left) * self.step
        if left >= 0:
            return Grid(start, self.step, *(each[:, left:end] for each in (self.mean, self.low, self.high)))
        pad = ((0, 0), (-left, 0))
        parts = (
            np.pad(each[:, : max(end, 0)], pad, constant_values=np.nan)[:, -steps:]
            for each in (self.mean, self.low, self.high)
        )
        return Grid(start, self.step, *parts)


@dataclass
class Record:
    """Readings of channels 0..C-1 (or of `ids`, ascending) between two moments, added in order of time.

    `frame` takes any moment, and its newest reading is exact, until `forget` lets go of single readings.
    """

    ids: NDArray[np.int64]
    start: np.datetime64
    end: np.datetime64
    _fine: _Buckets = field(init=False)
    _coarse: _Buckets = field(init=False)
    _kept: list[tuple[NDArray[np.int64], NDArray[np.datetime64], NDArray[np.float64]]] = field(
        init=False, default_factory=list
    )
    _last: tuple[NDArray[np.float64], NDArray[np.datetime64]] = field(init=False)
    _whole: tuple[_Whole, _Whole] | None = field(init=False, default=None)
    _hour: tuple[np.datetime64, Grid] | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        self._fine = _Buckets.empty(len(self.ids), FINE_STEP, self.start, self.end)
        self._coarse = _Buckets.empty(len(self.ids), COARSE_STEP, self.start, self.end)
        shape = self._fine.count.shape
        self._last = np.full(shape, np.nan), np.full(shape, _NEVER)

    def add(self, channel: NDArray[np.int64], at: NDArray[np.datetime64], value: NDArray[np.float64]) -> None:
        """Add readings: `channel` are rows (0..C-1), `at` datetime64[us] in ascending order."""
        keep = (at >= self.start) & (at < self.end)
        channel, at, value = channel[keep].astype(np.int64), at[keep], value[keep]
        self._fine.add(channel, at, value)
        self._coarse.add(channel, at, value)
        column = self._fine.column(at)
        self._last[0][channel, column] = value  # of several, the last one stays
        self._last[1][channel, column] = at
        self._kept.append((channel, at, value))
        self._whole = self._hour = None

    def forget(self) -> None:
        """Carry newest readings forward and let go of single ones: frames are then of moments on the 5-minute grid."""
        value, at = self._last
        column = np.arange(value.shape[1])
        source = np.maximum.accumulate(np.where(np.isnat(at), -1, column), axis=1)
        there = source >= 0
        source = np.maximum(source, 0)
        self._last = (
            np.where(there, np.take_along_axis(value, source, axis=1), np.nan),
            np.where(there, np.take_along_axis(at, source, axis=1), _NEVER),
        )
        self._kept = []
        self._whole = self._fine.seal(), self._coarse.seal()
        # All that frames need is in the whole ones now.
        self._fine, self._coarse = self._fine.emptied(), self._coarse.emptied()

    def frame(self, as_of: np.datetime64) -> Frame:
        """The frame as of a moment: any one before `forget`, one on the 5-minute grid after it."""
        if self._whole is None:
            self._whole = self._fine.seal(), self._coarse.seal()
        fine, coarse = self._whole
        value, at = self._newest(as_of)
        old = ~(at >= as_of - COARSE_STEPS * COARSE_STEP)
        return Frame(
            as_of=as_of.astype("datetime64[us]"),
            channels=self.ids,
            fine=fine.grid(as_of, FINE_STEPS),
            coarse=self._hours(coarse, as_of),
            last_value=np.where(old, np.nan, value),
            last_at=np.where(old, _NEVER, at),
        )

    def _hours(self, coarse: _Whole, as_of: np.datetime64) -> Grid:
        """The coarse grid; the same one for all moments of an hour, so that what is made of it is made once."""
        hour = as_of.astype("datetime64[h]")
        if self._hour is None or self._hour[0] != hour:
            self._hour = hour, coarse.grid(as_of, COARSE_STEPS)
        return self._hour[1]

    def _newest(self, as_of: np.datetime64) -> tuple[NDArray[np.float64], NDArray[np.datetime64]]:
        if not self._kept:
            column = int((as_of - _EPOCH) // FINE_STEP) - self._fine.first - 1
            assert (as_of - _EPOCH) % FINE_STEP == np.timedelta64(0), (
                "such a record has frames on the 5-minute grid only"
            )
            return self._last[0][:, column], self._last[1][:, column]
        value, at = np.full(len(self.ids), np.nan), np.full(len(self.ids), _NEVER)
        for channel, moment, reading in self._kept:
            until = np.searchsorted(moment, as_of, side="right")
            value[channel[:until]] = reading[:until]
            at[channel[:until]] = moment[:until]
        return value, at

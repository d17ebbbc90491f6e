"""A facility's window of readings, kept between sweeps so that a sweep costs what is new and not what is stored.

The window holds both grids with some room to the right. A sweep rolls up what came in, copies just those buckets into
it and moves on; after a lost transaction, or when channels were added, it is loaded afresh. Not here: the rolling up
(`store.rollups`) or any judgement.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import cast
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import Frame, Grid
from wickwatch.detect.frame import (
    COARSE_STEP,
    COARSE_STEPS,
    FINE_STEP,
    FINE_STEPS,
    rows_of,
)
from wickwatch.store import frames
from wickwatch.store.connect import Connection
from wickwatch.store.rollups import Refreshed

#: Columns kept free to the right of each grid; a grid is moved left when they are used up.
_SPARE = {"fine": 72, "coarse": 24}

_LIMIT = np.timedelta64(int(COARSE_STEPS), "h")


@dataclass
class _Buffer:
    """One grid with room to the right; column 0 is bucket number `first` (steps since 1970)."""

    step: np.timedelta64
    first: int
    mean: NDArray[np.float32]
    low: NDArray[np.float32]
    high: NDArray[np.float32]

    @classmethod
    def empty(
        cls, channels: int, step: np.timedelta64, first: int, columns: int
    ) -> _Buffer:
        shape = (channels, columns)
        return cls(
            step, first, *(np.full(shape, np.nan, dtype=np.float32) for _ in range(3))
        )

    def put(self, rows: NDArray[np.int64], packed: NDArray[np.void]) -> None:
        columns = packed["bucket"].astype(np.int64) - self.first
        keep = (rows >= 0) & (columns >= 0) & (columns < self.mean.shape[1])
        rows, columns = rows[keep], columns[keep]
        for name, into in (("mean", self.mean), ("low", self.low), ("high", self.high)):
            into[rows, columns] = packed[name][keep]

    def make_room(self, last: int, steps: int, spare: int) -> None:
        """Move left so that bucket `last` has a column, keeping the newest `steps` before it."""
        width = self.mean.shape[1]
        if last - self.first < width:
            return
        first = last - steps + 1
        shift = min(first - self.first, width)
        for grid in (self.mean, self.low, self.high):
            grid[:, : width - shift] = grid[:, shift:]
            grid[:, width - shift :] = np.nan
        self.first = first
        assert width == steps + spare

    def view(self, end: int, steps: int) -> Grid:
        """The `steps` buckets before bucket number `end`."""
        right = end - self.first
        columns = slice(max(right - steps, 0), right)
        start = np.datetime64(0, "us") + (self.first + columns.start) * self.step
        return Grid(
            start,
            self.step,
            self.mean[:, columns],
            self.low[:, columns],
            self.high[:, columns],
        )


class Window:
    """Both grids and the newest readings of one facility, as of the last `advance`."""

    def __init__(self, facility_id: UUID) -> None:
        self.facility_id = facility_id
        self._channels: NDArray[np.int64] = np.array([], dtype=np.int64)
        self._fine: _Buffer | None = None
        self._coarse: _Buffer | None = None
        self._last_value: NDArray[np.float64] = np.array([])
        self._last_at: NDArray[np.datetime64] = np.array([], dtype="datetime64[us]")

    def forget(self) -> None:
        """Drop all; the next `advance` loads afresh. Called when a transaction was lost."""
        self._fine = self._coarse = None

    def advance(self, conn: Connection, as_of: datetime, refreshed: Refreshed) -> Frame:
        """Bring the window up to `as_of`, given which buckets were rolled up since the last call."""
        now = _stamp(as_of)
        fine_end, coarse_end = _bucket(now, FINE_STEP), _bucket(now, COARSE_STEP)
        channels = frames.channel_ids(conn, self.facility_id)
        if (
            self._fine is None
            or self._coarse is None
            or not np.array_equal(channels, self._channels)
        ):
            self._load(conn, channels, as_of, fine_end, coarse_end)
        else:
            self._fine.make_room(fine_end, FINE_STEPS, _SPARE["fine"])
            self._coarse.make_room(coarse_end, COARSE_STEPS, _SPARE["coarse"])
            self._take(conn, refreshed)
        assert self._fine is not None and self._coarse is not None
        last_at = np.where(
            self._last_at < now - _LIMIT, np.datetime64("NaT"), self._last_at
        )
        return Frame(
            as_of=now,
            channels=self._channels,
            fine=self._fine.view(fine_end, FINE_STEPS),
            coarse=self._coarse.view(coarse_end, COARSE_STEPS),
            last_value=np.where(np.isnat(last_at), np.nan, self._last_value),
            last_at=last_at,
        )

    def _load(
        self,
        conn: Connection,
        channels: NDArray[np.int64],
        as_of: datetime,
        fine_end: int,
        coarse_end: int,
    ) -> None:
        self._channels = channels
        fine_first, coarse_first = fine_end - FINE_STEPS, coarse_end - COARSE_STEPS
        self._fine = _Buffer.empty(
            len(channels), FINE_STEP, fine_first, FINE_STEPS + _SPARE["fine"]
        )
        self._coarse = _Buffer.empty(
            len(channels), COARSE_STEP, coarse_first, COARSE_STEPS + _SPARE["coarse"]
        )
        self._last_value = np.full(len(channels), np.nan)
        self._last_at = np.full(
            len(channels), np.datetime64("NaT"), dtype="datetime64[us]"
        )
        later = as_of + timedelta(days=1)
        for packed in frames.fine_rows(
            conn, self.facility_id, _time(fine_first, FINE_STEP), later
        ):
            self._fine.put(self._rows(packed), packed)
        for packed in frames.coarse_rows(
            conn, self.facility_id, _time(coarse_first, COARSE_STEP), later
        ):
            self._coarse.put(self._rows(packed), packed)
        for packed in frames.last_rows(
            conn, self.facility_id, _time(coarse_first, COARSE_STEP), as_of
        ):
            self._newest(packed)

    def _take(self, conn: Connection, refreshed: Refreshed) -> None:
        assert self._fine is not None and self._coarse is not None
        for start, end in _spans(refreshed.fine, FINE_STEP):
            for packed in frames.fine_rows(conn, self.facility_id, start, end):
                self._fine.put(self._rows(packed), packed)
                self._newest(packed)
        for start, end in _spans(refreshed.coarse, COARSE_STEP):
            for packed in frames.coarse_rows(conn, self.facility_id, start, end):
                self._coarse.put(self._rows(packed), packed)

    def _newest(self, packed: NDArray[np.void]) -> None:
        # A backfill brings several buckets of a channel at once: ascending order lets the newest win.
        packed = packed[np.argsort(packed["last_at"], kind="stable")]
        rows, at = self._rows(packed), packed["last_at"].astype("datetime64[us]")
        newer = (rows >= 0) & (
            np.isnat(self._last_at[rows]) | (at > self._last_at[rows])
        )
        self._last_at[rows[newer]] = at[newer]
        self._last_value[rows[newer]] = packed["last"][newer]

    def _rows(self, packed: NDArray[np.void]) -> NDArray[np.int64]:
        return rows_of(self._channels, packed["channel"].astype(np.int64))


def _stamp(at: datetime) -> np.datetime64:
    return np.datetime64(at.astimezone(UTC).replace(tzinfo=None), "us")


def _bucket(at: np.datetime64, step: np.timedelta64) -> int:
    return int((at - np.datetime64(0, "us")) // step)


def _time(bucket: int, step: np.timedelta64) -> datetime:
    return cast(
        datetime,
        (np.datetime64(0, "us") + bucket * step).astype("datetime64[us]").item(),
    ).replace(tzinfo=UTC)


def _spans(
    buckets: tuple[datetime, ...], step: np.timedelta64
) -> list[tuple[datetime, datetime]]:
    """Neighbouring buckets as [start, end) spans."""
    width = cast(timedelta, step.astype("timedelta64[us]").item())
    spans: list[tuple[datetime, datetime]] = []
    for at in buckets:
        if spans and spans[-1][1] == at:
            spans[-1] = (spans[-1][0], at + width)
        else:
            spans.append((at, at + width))
    return spans

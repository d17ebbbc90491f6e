"""Readings of a span on a regular grid, by what they measured at the time.

A probe that was moved or replaced within the span speaks for each of its containers only while it was there. Values
that no instrument in a container can show, and hours in which a probe was judged not to tell the truth, are taken out:
they count as missing. Not here: any figure made of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import constants as c
from wickwatch.detect.clock import stamp
from wickwatch.detect.frame import rows_of
from wickwatch.detect.layout import Layout
from wickwatch.store import report_reads
from wickwatch.store.connect import Connection
from wickwatch.store.report_reads import Fault, Span, Stretch

FINE = np.timedelta64(5, "m")
COARSE = np.timedelta64(1, "h")

_EPOCH = np.datetime64(0, "us")

Values = NDArray[np.float32]


@dataclass(frozen=True)
class Readings:
    """Means on a grid of T equal steps from `start` (datetime64[us], UTC); NaN where there was nothing to believe.

    `tension_mbar` (N, T) by container, `level_mm` (R, T) above the sensor's zero by reservoir, `temperature_degc` and
    `humidity_percent` (rooms, T). `expected` (N, T) and `level_expected` (R, T): a reading was to be expected there.
    """

    start: np.datetime64
    step: np.timedelta64
    tension_mbar: Values
    level_mm: Values
    temperature_degc: Values
    humidity_percent: Values
    expected: NDArray[np.bool_]
    level_expected: NDArray[np.bool_]

    @property
    def times(self) -> NDArray[np.datetime64]:
        """Beginning of each step, shape (T,)."""
        return self.start + np.arange(self.tension_mbar.shape[1]) * self.step

    def columns(self, start: datetime, end: datetime) -> slice:
        """The steps that begin in [start, end)."""
        first, last = (int(np.ceil((stamp(at) - self.start) / self.step)) for at in (start, end))
        width = self.tension_mbar.shape[1]
        return slice(min(max(first, 0), width), min(max(last, 0), width))


def load(conn: Connection, place: Layout, span: Span, faults: Sequence[Fault], *, fine: bool) -> Readings:
    """Read a span on the fine or the coarse grid."""
    step, read = (FINE, report_reads.fine_means) if fine else (COARSE, report_reads.coarse_means)
    measured = report_reads.stretches(conn, span)
    channels = np.unique(np.array([each.channel_id for each in measured], dtype=np.int64))
    first = int((stamp(span.start) - _EPOCH) // step)
    width = int(-(-(stamp(span.end) - _EPOCH) // step)) - first
    heard = _heard(read(conn, span), channels, first, width)
    start = _EPOCH + first * step
    on_grid = _Grid(start, step, width, channels, heard)

    containers, reservoirs, rooms = (
        [each.id for each in group] for group in (place.containers, place.reservoirs, place.rooms)
    )
    tension, expected = on_grid.of(containers, [each for each in measured if each.quantity == "tension"])
    level, level_expected = on_grid.of(reservoirs, [each for each in measured if each.quantity == "level"])
    temperature, humidity = (
        on_grid.of(rooms, [each for each in measured if each.quantity == quantity])[0]
        for quantity in ("temperature", "humidity")
    )
    with np.errstate(invalid="ignore"):
        tension[(tension < c.TENSION_LOW_MBAR) | (tension > c.TENSION_HIGH_MBAR)] = np.nan
        humidity[(humidity < 0.0) | (humidity > 100.0)] = np.nan
    on_grid.silence(tension, containers, faults)
    on_grid.silence(level, reservoirs, faults)
    return Readings(start, step, tension, level, temperature, humidity, expected, level_expected)


def _heard(packed: Iterator[NDArray[np.void]], channels: NDArray[np.int64], first: int, width: int) -> Values:
    values = np.full((len(channels), width), np.nan, dtype=np.float32)
    for part in packed:
        rows = rows_of(channels, part["channel"].astype(np.int64))
        column = part["bucket"].astype(np.int64) - first
        keep = (rows >= 0) & (column >= 0) & (column < width)
        values[rows[keep], column[keep]] = part["mean"][keep]
    return values


@dataclass(frozen=True)
class _Grid:
    """Channels (ascending ids) over the steps of a span, before they are given to what they measured."""

    start: np.datetime64
    step: np.timedelta64
    width: int
    channels: NDArray[np.int64]
    heard: Values

    def of(self, subjects: Sequence[UUID], measured: Iterable[Stretch]) -> tuple[Values, NDArray[np.bool_]]:
        """Values of each subject, and where one was to be expected."""
        number = {each: at for at, each in enumerate(subjects)}
        values = np.full((len(subjects), self.width), np.nan, dtype=np.float32)
        expected = np.zeros(values.shape, dtype=np.bool_)
        for each in measured:
            row = number.get(each.subject_id)
            if row is None:
                continue
            columns = self._columns(each.start, each.end, np.ceil)
            source = self.heard[int(rows_of(self.channels, np.array([each.channel_id]))[0]), columns]
            values[row, columns] = source
            expected[row, columns] = _due(source, each.interval_s, self.step)
        return values, expected

    def silence(self, values: Values, subjects: Sequence[UUID], faults: Iterable[Fault]) -> None:
        """Take out what was said in times of fault."""
        number = {each: at for at, each in enumerate(subjects)}
        for fault in faults:
            row = number.get(fault.subject_id)
            if row is not None:
                values[row, self._columns(fault.start, fault.end, np.floor)] = np.nan

    def _columns(self, start: datetime, end: datetime | None, rounded: Callable[[float], float]) -> slice:
        first = float((stamp(start) - self.start) / self.step)
        last = self.width if end is None else float((stamp(end) - self.start) / self.step)
        return slice(int(np.clip(rounded(first), 0, self.width)), int(np.clip(np.ceil(last), 0, self.width)))


def _due(values: Values, interval_s: float | None, step: np.timedelta64) -> NDArray[np.bool_]:
    """Steps for which a reading was to be expected: all, or where a channel reports seldom, those near its readings.

    A channel that reports each quarter of an hour fills every third step of five minutes and lacks nothing.
    """
    due = np.ones(len(values), dtype=np.bool_)
    steps = 1 if interval_s is None else int(np.ceil(interval_s / (step / np.timedelta64(1, "s")) - 1e-9))
    if steps <= 1:
        return due
    there = np.isfinite(values)
    before = np.maximum.accumulate(np.where(there, np.arange(len(values)), -steps - 1))
    covered = np.arange(len(values)) - before < steps
    # Within its interval after a reading nothing was due; elsewhere one of so many steps was.
    missing = ~covered & (np.arange(len(values)) % steps == 0)
    return np.asarray(there | missing)

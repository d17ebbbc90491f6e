"""Readings of a room in buckets over a span of time: for its charts, its table, and CSV.

Not here: drawing (`chart`), or what a script draws again (`chart_data`).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TypeAlias
from uuid import UUID

import numpy as np

from wickwatch.agronomy.arrays import Floats
from wickwatch.agronomy.tank import Tank
from wickwatch.store.pages import bucket_end
from wickwatch.web.views.state import ReservoirState, RoomState, reservoir_tank
from wickwatch.web.views.times import Moment, moment

#: Mean of each of a window's buckets (T,), NaN where nothing was read, by channel.
Means: TypeAlias = Mapping[int, Floats]


@dataclass(frozen=True)
class Span:
    """A length of time to look back on, the width of its buckets, and how far ahead is looked."""

    key: str
    label: str
    length: timedelta
    every: timedelta
    ahead: timedelta


SPANS = (
    Span("24h", "24 hours", timedelta(hours=24), timedelta(minutes=10), timedelta(hours=8)),
    Span("7d", "7 days", timedelta(days=7), timedelta(hours=1), timedelta(days=2)),
    Span("30d", "30 days", timedelta(days=30), timedelta(hours=4), timedelta(days=7)),
)


@dataclass(frozen=True)
class Window:
    """From when to when, how wide a bucket is, and how far ahead is looked."""

    start: datetime
    end: datetime
    every: timedelta
    ahead: timedelta = timedelta()

    @property
    def count(self) -> int:
        """How many buckets there are."""
        return round((self.end - self.start) / self.every)


@dataclass(frozen=True)
class Table:
    """The values of a chart, one row for each bucket."""

    heads: tuple[str, ...]
    rows: tuple[tuple[Moment, tuple[str, ...]], ...]


def span_of(key: str) -> Span:
    """The span with this key, the shortest for any other."""
    return next((span for span in SPANS if span.key == key), SPANS[0])


def window(span: Span, now: datetime) -> Window:
    """The buckets that end with the one `now` falls in, on whole multiples of their width."""
    end = bucket_end(now, span.every)
    return Window(end - span.length, end, span.every, span.ahead)


def usable(reservoir: ReservoirState, tank: Tank, level_mm: Floats) -> Floats:
    """Litres above the level at which the line starves."""
    empty = tank.clip_level_mm(reservoir.row.outlet_mm + reservoir.row.head_mm)
    return tank.usable_l(tank.clip_level_mm(level_mm + reservoir.row.sensor_zero_mm), float(empty))


def channel_ids(state: RoomState, only: UUID | None = None) -> list[int]:
    """Channels of a room's containers and reservoirs, or of one of them."""
    found = [(one.row.id, one.row.channel_id) for one in state.containers]
    found += [(one.row.id, one.row.channel_id) for one in state.reservoirs]
    return [channel for id, channel in found if channel is not None and only in (None, id)]


def table(state: RoomState, shown: Window, means: Means, now: datetime) -> Table:
    """Tension of every container and water of every reservoir, newest first."""
    heads, cells = _cells(state, shown, means)
    rows = [
        (moment(at, state.zone, now), tuple("" if np.isnan(cell) else f"{cell:.1f}" for cell in row))
        for at, row in _read(shown, cells)
    ]
    return Table(heads, tuple(reversed(rows)))


def csv_text(state: RoomState, shown: Window, means: Means) -> str:
    """The same as CSV (RFC 4180), oldest first, times in UTC."""
    heads, cells = _cells(state, shown, means)
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["from", *heads])
    for at, row in _read(shown, cells):
        numbers = ["" if np.isnan(cell) else f"{cell:.2f}" for cell in row]
        writer.writerow([f"{at.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}", *numbers])
    return out.getvalue()


def _cells(state: RoomState, shown: Window, means: Means) -> tuple[tuple[str, ...], Floats]:
    """A head for each column, and the values (T, columns), NaN where nothing was read."""
    heads, columns = [], []
    nothing = np.full(shown.count, np.nan)
    for one in state.containers:
        if one.row.channel_id is not None:
            heads.append(f"{one.row.name}, mbar")
            columns.append(means.get(one.row.channel_id, nothing))
    for each in state.reservoirs:
        if each.row.channel_id is not None:
            tank, level = reservoir_tank(each.row), means.get(each.row.channel_id, nothing)
            heads.append(f"{each.row.name}, {'l' if tank else 'mm'}")
            columns.append(usable(each, tank, level) if tank else level)
    return tuple(heads), np.stack(columns, axis=1) if columns else np.empty((shown.count, 0))


def _read(shown: Window, cells: Floats) -> Iterator[tuple[datetime, list[float]]]:
    """Beginning and values of each bucket in which anything was read, oldest first."""
    for number in np.flatnonzero(np.isfinite(cells).any(axis=1)).tolist():
        yield shown.start + number * shown.every, cells[number].tolist()

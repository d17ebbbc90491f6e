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
from wickwatch.texts import N_, PLAIN, Unit, _, number, speaking, tension_unit, volume_unit
from wickwatch.web.views.state import ReservoirState, RoomState, reservoir_tank
from wickwatch.web.views.times import Moment, moment

#: Mean of each of a window's buckets (T,), NaN where nothing was read, by channel.
Means: TypeAlias = Mapping[int, Floats]


@dataclass(frozen=True)
class Span:
    """A length of time to look back on, the width of its buckets, and how far ahead is looked."""

    key: str
    name: str
    length: timedelta
    every: timedelta
    ahead: timedelta

    @property
    def label(self) -> str:
        """What it is called."""
        return _(self.name)


SPANS = (
    Span("24h", N_("24 hours"), timedelta(hours=24), timedelta(minutes=10), timedelta(hours=8)),
    Span("7d", N_("7 days"), timedelta(days=7), timedelta(hours=1), timedelta(days=2)),
    Span("30d", N_("30 days"), timedelta(days=30), timedelta(hours=4), timedelta(days=7)),
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
    heads, units, cells = _cells(state, shown, means)
    rows = [
        (
            moment(at, state.zone, now),
            tuple(
                "" if np.isnan(cell) else number(cell, 1 + unit.digits) for cell, unit in zip(row, units, strict=True)
            ),
        )
        for at, row in _read(shown, cells)
    ]
    return Table(heads, tuple(reversed(rows)))


def csv_text(state: RoomState, shown: Window, means: Means) -> str:
    """The same for programs as CSV (RFC 4180): oldest first, times in UTC, tension in mbar and water in l."""
    with speaking(PLAIN):
        heads, _units, cells = _cells(state, shown, means)
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["from", *heads])
    for at, row in _read(shown, cells):
        numbers = ["" if np.isnan(cell) else f"{cell:.2f}" for cell in row]
        writer.writerow([f"{at.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}", *numbers])
    return out.getvalue()


def _cells(state: RoomState, shown: Window, means: Means) -> tuple[tuple[str, ...], list[Unit], Floats]:
    """A head and a unit for each column, and the values (T, columns) in these, NaN where nothing was read."""
    names, units, columns = [], [], []
    nothing = np.full(shown.count, np.nan)
    for one in state.containers:
        if one.row.channel_id is not None:
            names.append(one.row.name)
            units.append(tension_unit())
            columns.append(means.get(one.row.channel_id, nothing))
    for each in state.reservoirs:
        if each.row.channel_id is not None:
            tank, level = reservoir_tank(each.row), means.get(each.row.channel_id, nothing)
            names.append(each.row.name)
            units.append(volume_unit() if tank else Unit("mm", 1.0, 0))
            columns.append(usable(each, tank, level) if tank else level)
    heads = tuple(f"{name}, {unit.name}" for name, unit in zip(names, units, strict=True))
    read = [unit.shown(column) for unit, column in zip(units, columns, strict=True)]
    return heads, units, np.stack(read, axis=1) if read else np.empty((shown.count, 0))


def _read(shown: Window, cells: Floats) -> Iterator[tuple[datetime, list[float]]]:
    """Beginning and values of each bucket in which anything was read, oldest first."""
    for place in np.flatnonzero(np.isfinite(cells).any(axis=1)).tolist():
        yield shown.start + place * shown.every, cells[place].tolist()

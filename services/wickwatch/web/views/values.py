"""Readings of a room in buckets over a span of time: for its charts, its table, and CSV.

Not here: drawing (`chart`), or what a script draws again (`chart_data`).
"""

from __future__ import annotations

import csv
import io
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from uuid import UUID

from wickwatch.agronomy.tank import Tank
from wickwatch.store.pages import Bucket, bucket_end
from wickwatch.web.views.state import ContainerState, ReservoirState, RoomState, reservoir_tank
from wickwatch.web.views.times import Moment, moment


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


def usable(reservoir: ReservoirState, tank: Tank, level_mm: float) -> float:
    """Litres above the level at which the line starves."""
    empty = tank.clip_level_mm(reservoir.row.outlet_mm + reservoir.row.head_mm)
    return float(tank.usable_l(tank.clip_level_mm(level_mm + reservoir.row.sensor_zero_mm), float(empty)))


def channel_ids(state: RoomState, only: UUID | None = None) -> list[int]:
    """Channels of a room's containers and reservoirs, or of one of them."""
    found = [(one.row.id, one.row.channel_id) for one in state.containers]
    found += [(one.row.id, one.row.channel_id) for one in state.reservoirs]
    return [channel for id, channel in found if channel is not None and only in (None, id)]


def by_channel(buckets: Sequence[Bucket]) -> dict[int, list[tuple[datetime, float]]]:
    """Beginning and mean of each bucket, by channel."""
    found: dict[int, list[tuple[datetime, float]]] = defaultdict(list)
    for bucket in buckets:
        found[bucket.channel_id].append((bucket.at, bucket.mean))
    return found


def table(state: RoomState, shown: Window, buckets: Sequence[Bucket], now: datetime) -> Table:
    """Tension of every container and water of every reservoir, newest first."""
    containers, reservoirs = _columns(state)
    points = _points(buckets)
    rows = []
    for number in range(_count(shown) - 1, -1, -1):
        at = shown.start + number * shown.every
        cells = _cells(containers, reservoirs, points, at)
        if any(cell is not None for cell in cells):
            rows.append((moment(at, state.zone, now), tuple("" if cell is None else f"{cell:.1f}" for cell in cells)))
    return Table(tuple(_heads(containers, reservoirs)), tuple(rows))


def csv_text(state: RoomState, shown: Window, buckets: Sequence[Bucket]) -> str:
    """The same as CSV (RFC 4180), oldest first, times in UTC."""
    containers, reservoirs = _columns(state)
    points = _points(buckets)
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["from", *_heads(containers, reservoirs)])
    for number in range(_count(shown)):
        at = shown.start + number * shown.every
        cells = _cells(containers, reservoirs, points, at)
        if any(cell is not None for cell in cells):
            writer.writerow(
                [f"{at.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}", *("" if cell is None else f"{cell:.2f}" for cell in cells)]
            )
    return out.getvalue()


def _columns(state: RoomState) -> tuple[list[ContainerState], list[tuple[ReservoirState, Tank | None]]]:
    containers = [one for one in state.containers if one.row.channel_id is not None]
    return containers, [(one, reservoir_tank(one.row)) for one in state.reservoirs if one.row.channel_id is not None]


def _heads(containers: Sequence[ContainerState], reservoirs: Sequence[tuple[ReservoirState, Tank | None]]) -> list[str]:
    heads = [f"{one.row.name}, mbar" for one in containers]
    return heads + [f"{one.row.name}, {'l' if tank else 'mm'}" for one, tank in reservoirs]


def _points(buckets: Sequence[Bucket]) -> Mapping[int, Mapping[datetime, float]]:
    return {channel: dict(values) for channel, values in by_channel(buckets).items()}


def _count(shown: Window) -> int:
    return round((shown.end - shown.start) / shown.every)


def _cells(
    containers: Sequence[ContainerState],
    reservoirs: Sequence[tuple[ReservoirState, Tank | None]],
    points: Mapping[int, Mapping[datetime, float]],
    at: datetime,
) -> list[float | None]:
    cells = [points.get(one.row.channel_id or 0, {}).get(at) for one in containers]
    for one, tank in reservoirs:
        level = points.get(one.row.channel_id or 0, {}).get(at)
        cells.append(None if level is None else usable(one, tank, level) if tank else level)
    return cells

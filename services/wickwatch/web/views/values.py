"""Readings of a room in buckets over a span of time: for its charts, its table, and the pointer.

Not here: drawing (`chart`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from wickwatch.agronomy.tank import Tank
from wickwatch.store.pages import Bucket, bucket_end
from wickwatch.web.views.state import ReservoirState, RoomState, reservoir_tank
from wickwatch.web.views.times import Moment, moment


@dataclass(frozen=True)
class Span:
    """A length of time to look back on, and the width of its buckets."""

    key: str
    label: str
    length: timedelta
    every: timedelta


SPANS = (
    Span("24h", "24 hours", timedelta(hours=24), timedelta(minutes=10)),
    Span("7d", "7 days", timedelta(days=7), timedelta(hours=1)),
    Span("30d", "30 days", timedelta(days=30), timedelta(hours=4)),
)


@dataclass(frozen=True)
class Window:
    """From when to when, and how wide a bucket is."""

    start: datetime
    end: datetime
    every: timedelta


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
    return Window(end - span.length, end, span.every)


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
    points: Mapping[int, Mapping[datetime, float]] = {
        channel: dict(values) for channel, values in by_channel(buckets).items()
    }
    containers = [one for one in state.containers if one.row.channel_id is not None]
    reservoirs = [(one, reservoir_tank(one.row)) for one in state.reservoirs if one.row.channel_id is not None]
    heads = [f"{one.row.name}, mbar" for one in containers]
    heads += [f"{one.row.name}, {'l' if tank else 'mm'}" for one, tank in reservoirs]
    rows = []
    for number in range(round((shown.end - shown.start) / shown.every) - 1, -1, -1):
        at = shown.start + number * shown.every
        cells = [points.get(one.row.channel_id or 0, {}).get(at) for one in containers]
        for one, tank in reservoirs:
            level = points.get(one.row.channel_id or 0, {}).get(at)
            cells.append(None if level is None else usable(one, tank, level) if tank else level)
        if any(cell is not None for cell in cells):
            rows.append((moment(at, state.zone, now), tuple("" if cell is None else f"{cell:.1f}" for cell in cells)))
    return Table(tuple(heads), tuple(rows))


def pointer_values(state: RoomState, shown: Window, buckets: Sequence[Bucket], now: datetime) -> dict[str, object]:
    """Values of every line of the charts by the number of their bucket, with what each time is called."""
    found = by_channel(buckets)
    count = round((shown.end - shown.start) / shown.every)

    def placed(channel_id: int | None, digits: int, value: Callable[[float], float]) -> list[float | None]:
        row: list[float | None] = [None] * count
        for at, mean in found.get(channel_id or 0, []):
            row[round((at - shown.start) / shown.every)] = round(value(mean), digits)
        return row

    lines: dict[str, list[float | None]] = {
        str(one.row.id): placed(one.row.channel_id, 1, lambda tension: tension) for one in state.containers
    }
    for one in state.reservoirs:
        tank = reservoir_tank(one.row)
        litres = (lambda level, one=one, tank=tank: usable(one, tank, level)) if tank else (lambda level: level)
        lines[str(one.row.id)] = placed(one.row.channel_id, 1, litres)
    times = [moment(shown.start + number * shown.every, state.zone, now).text for number in range(count)]
    return {"times": times, "lines": lines}

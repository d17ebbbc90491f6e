"""Rooms with what stands in them and the newest reading of each part, a few statements for any number of rooms.

The newest value is looked up in the 5-minute rollups, one index probe for each channel. Not here: what is wrong in a
room (`store.pages.alarm_reads`), or what the numbers mean (`web.views`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time
from typing import LiteralString
from uuid import UUID

from wickwatch.store.connect import Connection

# Ids of rooms in the order lists are read in, from one that was the last of the page before.
_ROOM_IDS: LiteralString = """
SELECT r.id FROM room r JOIN facility f ON f.id = r.facility_id
WHERE r.facility_id = ANY (%(facilities)s) AND r.retired_at IS NULL
  AND (%(after)s::uuid IS NULL OR (f.slug, r.slug, r.id) > (
      SELECT af.slug, ar.slug, ar.id FROM room ar JOIN facility af ON af.id = ar.facility_id
      WHERE ar.id = %(after)s AND ar.facility_id = ANY (%(facilities)s)))
ORDER BY f.slug, r.slug, r.id LIMIT %(limit)s
"""

# Rooms by id, with the rules given on their facility and on themselves.
_ROOMS: LiteralString = """
SELECT r.id, f.id, f.slug, f.name, f.zone, r.slug, r.name, r.lights_on, r.lights_off, f.rules, r.rules
FROM room r JOIN facility f ON f.id = r.facility_id
WHERE r.id = ANY (%s) AND r.retired_at IS NULL ORDER BY f.slug, r.slug, r.id
"""

# Containers of rooms with the channel that counts and its newest reading since it was attached.
_CONTAINERS: LiteralString = """
SELECT c.room_id, c.id, c.slug, c.name, c.line_id, c.stands_for, nullif(c.rules, '{}'), a.channel_id, ch.interval_s,
       newest.last, newest.last_at
FROM container c
LEFT JOIN assignment a ON a.container_id = c.id AND a.quantity = 'tension' AND NOT a.twin AND a.during @> %(now)s
LEFT JOIN channel ch ON ch.id = a.channel_id
LEFT JOIN LATERAL (
    SELECT last, last_at FROM rollup_5m WHERE channel_id = a.channel_id AND at <= %(now)s ORDER BY at DESC LIMIT 1
) newest ON newest.last_at >= lower(a.during) OR lower_inf(a.during)
WHERE c.room_id = ANY (%(rooms)s) AND c.retired_at IS NULL
ORDER BY c.slug
"""

# Reservoirs of rooms, likewise, and the lines each feeds.
_RESERVOIRS: LiteralString = """
SELECT r.room_id, r.id, r.slug, r.name, r.shape, r.keys, r.sensor_zero_mm, r.outlet_mm, r.head_mm,
       nullif(r.rules, '{}'), a.channel_id, ch.interval_s, newest.last, newest.last_at
FROM reservoir r
LEFT JOIN assignment a ON a.reservoir_id = r.id AND a.quantity = 'level' AND NOT a.twin AND a.during @> %(now)s
LEFT JOIN channel ch ON ch.id = a.channel_id
LEFT JOIN LATERAL (
    SELECT last, last_at FROM rollup_5m WHERE channel_id = a.channel_id AND at <= %(now)s ORDER BY at DESC LIMIT 1
) newest ON newest.last_at >= lower(a.during) OR lower_inf(a.during)
WHERE r.room_id = ANY (%(rooms)s) AND r.retired_at IS NULL
ORDER BY r.slug
"""

# Supply lines of rooms.
_LINES: LiteralString = """
SELECT room_id, id, slug, name, reservoir_id, kind FROM supply_line
WHERE room_id = ANY (%s) AND retired_at IS NULL ORDER BY slug
"""


@dataclass(frozen=True)
class RoomRow:
    """A room and where it stands; rules are those given there, not yet inherited."""

    id: UUID
    facility_id: UUID
    facility_slug: str
    facility_name: str
    zone: str
    slug: str
    name: str
    lights_on: time
    lights_off: time
    facility_rules: Mapping[str, object]
    rules: Mapping[str, object]


@dataclass(frozen=True)
class ContainerRow:
    """A container and the newest reading of its probe.

    `rules` are None where none are given here; the last four where there is no channel or no reading.
    """

    room_id: UUID
    id: UUID
    slug: str
    name: str
    line_id: UUID | None
    stands_for: int
    rules: Mapping[str, object] | None
    channel_id: int | None
    interval_s: float | None
    tension_mbar: float | None
    read_at: datetime | None


@dataclass(frozen=True)
class ReservoirRow:
    """A reservoir and its newest level above the sensor's zero; the last three are None where there is none."""

    room_id: UUID
    id: UUID
    slug: str
    name: str
    shape: str
    keys: Mapping[str, object]
    sensor_zero_mm: float
    outlet_mm: float
    head_mm: float
    rules: Mapping[str, object] | None
    channel_id: int | None
    interval_s: float | None
    level_mm: float | None
    read_at: datetime | None


@dataclass(frozen=True)
class LineRow:
    """A supply line."""

    room_id: UUID
    id: UUID
    slug: str
    name: str
    reservoir_id: UUID | None
    kind: str


def room_ids(conn: Connection, facility_ids: Sequence[UUID], limit: int, after: UUID | None = None) -> list[UUID]:
    """Ids of rooms in use by facility and slug, those after `after` where it is given."""
    values = {"facilities": list(facility_ids), "limit": limit, "after": after}
    return [row[0] for row in conn.execute(_ROOM_IDS, values, binary=True)]


def rooms(conn: Connection, ids: Sequence[UUID]) -> list[RoomRow]:
    """Rooms by facility and slug."""
    return [RoomRow(*row) for row in conn.execute(_ROOMS, (list(ids),), binary=True)]


def containers(conn: Connection, ids: Sequence[UUID], now: datetime) -> list[ContainerRow]:
    """Containers of the rooms with these ids, by slug."""
    return [ContainerRow(*row) for row in conn.execute(_CONTAINERS, {"rooms": list(ids), "now": now}, binary=True)]


def reservoirs(conn: Connection, ids: Sequence[UUID], now: datetime) -> list[ReservoirRow]:
    """Reservoirs of the rooms with these ids, by slug."""
    return [ReservoirRow(*row) for row in conn.execute(_RESERVOIRS, {"rooms": list(ids), "now": now}, binary=True)]


def lines(conn: Connection, ids: Sequence[UUID]) -> list[LineRow]:
    """Supply lines of the rooms with these ids, by slug."""
    return [LineRow(*row) for row in conn.execute(_LINES, (list(ids),), binary=True)]

"""Channels as lists show them: what was heard, its newest value, and what it is attached to now.

Not here: registering (`store.channels`) or attaching them (`store.assignments`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import LiteralString
from uuid import UUID

from wickwatch.store.connect import Connection

_COLUMNS: LiteralString = """
SELECT c.id, c.facility_id, f.slug, c.name, c.quantity, c.unit, g.slug, c.interval_s, c.first_heard_at, c.conflicts,
       newest.last, newest.last_at,
       CASE WHEN a.container_id IS NOT NULL THEN 'container' WHEN a.reservoir_id IS NOT NULL THEN 'reservoir'
            WHEN a.line_id IS NOT NULL THEN 'line' WHEN a.room_id IS NOT NULL THEN 'room' END,
       coalesce(a.container_id, a.reservoir_id, a.line_id, a.room_id), coalesce(k.name, v.name, l.name, r.name), r.slug,
       lower(a.during), a.twin
FROM channel c
JOIN facility f ON f.id = c.facility_id
JOIN device d ON d.id = c.device_id
LEFT JOIN gateway g ON g.id = d.gateway_id
LEFT JOIN assignment a ON a.channel_id = c.id AND a.during @> %(now)s
LEFT JOIN container k ON k.id = a.container_id
LEFT JOIN reservoir v ON v.id = a.reservoir_id
LEFT JOIN supply_line l ON l.id = a.line_id
LEFT JOIN room r ON r.id = coalesce(a.room_id, k.room_id, v.room_id, l.room_id)
LEFT JOIN LATERAL (
    SELECT last, last_at FROM rollup_5m WHERE channel_id = c.id AND at <= %(now)s ORDER BY at DESC LIMIT 1
) newest ON true
"""

# Channels of facilities by id; `attached` null filters nothing.
_LIST: LiteralString = (
    _COLUMNS
    + """
WHERE c.facility_id = ANY (%(facilities)s) AND c.id > %(after)s
  AND (%(attached)s::boolean IS NULL OR (a.id IS NOT NULL) = %(attached)s)
  AND (%(quantity)s::text IS NULL OR c.quantity = %(quantity)s)
  AND NOT (%(attachable)s AND c.quantity = 'battery')
ORDER BY c.id LIMIT %(limit)s
"""
)

# Channels by id or by name, in facilities.
_BY_ID: LiteralString = _COLUMNS + "WHERE c.id = %(id)s AND c.facility_id = ANY (%(facilities)s)"
_BY_NAME: LiteralString = _COLUMNS + "WHERE c.name = %(name)s AND c.facility_id = ANY (%(facilities)s) ORDER BY c.id"


@dataclass(frozen=True)
class ChannelRow:
    """A channel; the fields from `subject_type` on are None where it is attached to nothing."""

    id: int
    facility_id: UUID
    facility_slug: str
    name: str
    quantity: str
    unit: str
    gateway_slug: str | None
    interval_s: float | None
    first_heard_at: datetime
    conflicts: int
    last_value: float | None
    last_at: datetime | None
    subject_type: str | None
    subject_id: UUID | None
    subject_name: str | None
    room_slug: str | None
    since: datetime | None
    twin: bool | None


def channels(
    conn: Connection,
    facility_ids: Sequence[UUID],
    limit: int,
    now: datetime,
    *,
    after: int = 0,
    attached: bool | None = None,
    quantity: str | None = None,
    attachable: bool = False,
) -> list[ChannelRow]:
    """Channels of facilities by id, those after `after`; `attachable` leaves out batteries, which go with a device."""
    values = {
        "facilities": list(facility_ids),
        "limit": limit,
        "now": now,
        "after": after,
        "attached": attached,
        "quantity": quantity,
        "attachable": attachable,
    }
    return [ChannelRow(*row) for row in conn.execute(_LIST, values, binary=True)]


def channel(conn: Connection, channel_id: int, facility_ids: Sequence[UUID], now: datetime) -> ChannelRow | None:
    """One channel, or None where it is not in these facilities."""
    row = conn.execute(_BY_ID, {"id": channel_id, "facilities": list(facility_ids), "now": now}, binary=True).fetchone()
    return None if row is None else ChannelRow(*row)


def channels_named(conn: Connection, name: str, facility_ids: Sequence[UUID], now: datetime) -> list[ChannelRow]:
    """Channels with this name; one in each facility at most."""
    values = {"name": name, "facilities": list(facility_ids), "now": now}
    return [ChannelRow(*row) for row in conn.execute(_BY_NAME, values, binary=True)]

"""What is set up in a facility, in numbers, for the pages that set it up.

Not here: each thing with its values, which is read as a fleet file declares it (`store.fleet_declared`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time
from typing import LiteralString
from uuid import UUID

from wickwatch.store.connect import Connection

# Rooms in use with how much stands in each, and how much of it has a probe or sensor.
_ROOMS: LiteralString = """
SELECT r.slug, r.id, r.name, r.lights_on, r.lights_off, coalesce(v.found, 0), coalesce(v.measured, 0),
       coalesce(l.found, 0), coalesce(c.found, 0), coalesce(c.measured, 0),
       (SELECT count(*) FROM jsonb_object_keys(r.rules))
FROM room r
LEFT JOIN (
    SELECT t.room_id, count(*) AS found, count(a.id) AS measured FROM reservoir t
    LEFT JOIN assignment a ON a.reservoir_id = t.id AND a.quantity = 'level' AND upper_inf(a.during)
    WHERE t.retired_at IS NULL GROUP BY t.room_id
) v ON v.room_id = r.id
LEFT JOIN (
    SELECT room_id, count(*) AS found FROM supply_line WHERE retired_at IS NULL GROUP BY room_id
) l ON l.room_id = r.id
LEFT JOIN (
    SELECT t.room_id, count(*) AS found, count(a.id) AS measured FROM container t
    LEFT JOIN assignment a ON a.container_id = t.id AND a.quantity = 'tension' AND NOT a.twin AND upper_inf(a.during)
    WHERE t.retired_at IS NULL GROUP BY t.room_id
) c ON c.room_id = r.id
WHERE r.facility_id = %s AND r.retired_at IS NULL ORDER BY r.slug
"""

# Gateways in use, those only heard among them.
_GATEWAYS: LiteralString = """
SELECT slug, declared, heard_at FROM gateway WHERE facility_id = %s AND retired_at IS NULL ORDER BY slug
"""

# A reservoir or container in use in a room, by its slug.
_PART: LiteralString = """
SELECT id FROM reservoir WHERE %(kind)s = 'reservoir' AND room_id = %(room)s AND slug = %(slug)s AND retired_at IS NULL
UNION ALL
SELECT id FROM container WHERE %(kind)s = 'container' AND room_id = %(room)s AND slug = %(slug)s AND retired_at IS NULL
"""


@dataclass(frozen=True)
class RoomCounts:
    """A room and how much stands in it; `levels` and `probes` are reservoirs and containers that are measured.

    `rules` counts those given at the room itself.
    """

    slug: str
    id: UUID
    name: str
    lights_on: time
    lights_off: time
    reservoirs: int
    levels: int
    lines: int
    containers: int
    probes: int
    rules: int


@dataclass(frozen=True)
class GatewayRow:
    """A gateway; `declared` where somebody said that it should be heard."""

    slug: str
    declared: bool
    heard_at: datetime | None


def room_counts(conn: Connection, facility_id: UUID) -> list[RoomCounts]:
    """Rooms of a facility by slug."""
    return [RoomCounts(*row) for row in conn.execute(_ROOMS, (facility_id,))]


def part_id(conn: Connection, room_id: UUID, kind: str, slug: str) -> UUID | None:
    """The id of a reservoir or container of a room, None where it is not there."""
    row = conn.execute(_PART, {"room": room_id, "kind": kind, "slug": slug}).fetchone()
    return None if row is None else row[0]


def gateways(conn: Connection, facility_id: UUID) -> list[GatewayRow]:
    """Gateways of a facility by slug."""
    return [GatewayRow(*row) for row in conn.execute(_GATEWAYS, (facility_id,))]

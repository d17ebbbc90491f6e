"""What was heard: gateways, devices and their channels, registered when they first speak.

Not here: what a channel is attached to (`store.assignments`), nor its readings. Everybody inserts in the order of
names, so that two copies that meet the same new names wait for one another in turn and never in a circle.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Literal, LiteralString, NamedTuple
from uuid import UUID

from wickwatch.store.connect import Connection

#: From how many of its last readings, within which time, a channel's usual interval is taken.
INTERVAL_READINGS = 12
INTERVAL_WITHIN = "3 days"

# Facilities in use and the days of readings each keeps, null where it has no rule of its own.
_PLACES: LiteralString = """
SELECT id, slug, (rules ->> 'retention_days')::float FROM facility WHERE retired_at IS NULL
"""

# A gateway that was never heard nor declared.
_ADD_GATEWAY: LiteralString = """
INSERT INTO gateway (facility_id, slug) VALUES (%s, %s)
ON CONFLICT (facility_id, slug) WHERE retired_at IS NULL DO NOTHING
"""
_GATEWAY: LiteralString = "SELECT id FROM gateway WHERE facility_id = %s AND slug = %s AND retired_at IS NULL"

_GATEWAYS: LiteralString = "SELECT slug, id FROM gateway WHERE facility_id = %s AND retired_at IS NULL"

# Channels with the gateway that their device was last heard through: all of a facility, and some by name.
_ALL: LiteralString = """
SELECT c.id, c.name, c.quantity, c.unit, c.full_scale_mm, d.gateway_id
FROM channel c JOIN device d ON d.id = c.device_id
WHERE c.facility_id = %(facility)s
"""
_FIND: LiteralString = _ALL + "AND c.name = ANY (%(names)s)"

# Devices that were never heard.
_ADD_DEVICES: LiteralString = """
INSERT INTO device (facility_id, urn, gateway_id)
SELECT %(facility)s, urn, %(gateway)s::uuid FROM (SELECT DISTINCT unnest(%(devices)s::text[]) AS urn) AS g ORDER BY urn
ON CONFLICT (facility_id, urn) DO NOTHING
"""

# Channels that were never heard.
_ADD_CHANNELS: LiteralString = """
INSERT INTO channel (facility_id, device_id, name, quantity, unit)
SELECT d.facility_id, d.id, g.name, g.quantity, g.unit
FROM unnest(%(devices)s::text[], %(names)s::text[], %(quantities)s::text[], %(units)s::text[])
     AS g (urn, name, quantity, unit)
JOIN device d ON d.facility_id = %(facility)s AND d.urn = g.urn
ORDER BY g.name
ON CONFLICT (facility_id, name) DO NOTHING
"""

# Devices of these channels are heard through this gateway now.
_MOVE: LiteralString = """
UPDATE device SET gateway_id = %(gateway)s
WHERE gateway_id IS DISTINCT FROM %(gateway)s AND id IN (
    SELECT device_id FROM channel WHERE facility_id = %(facility)s AND name = ANY (%(names)s))
"""

# When each gateway's last pack came; never backwards, since copies write in any order.
_HEARD: LiteralString = """
UPDATE gateway SET heard_at = heard.at
FROM (SELECT * FROM unnest(%s::uuid[], %s::timestamptz[]) AS g (id, at) ORDER BY id) AS heard
WHERE gateway.id = heard.id AND (heard_at IS NULL OR heard_at < heard.at)
"""

# A birth or will message; a retained one that tells nothing new leaves its time as it was.
_STATUS: LiteralString = """
UPDATE gateway SET status = %(status)s, status_at = %(at)s
WHERE id = %(id)s AND status IS DISTINCT FROM %(status)s AND (status_at IS NULL OR status_at <= %(at)s)
"""

# The usual interval of channels: the median gap between their last readings, where there are at least three.
_INTERVALS: LiteralString = """
UPDATE channel SET interval_s = seen.seconds
FROM (
    SELECT c.id, percentile_cont(0.5) WITHIN GROUP (ORDER BY gap) AS seconds
    FROM channel c CROSS JOIN LATERAL (
        SELECT extract(epoch FROM at - lag(at) OVER (ORDER BY at))::float AS gap
        FROM (SELECT at FROM reading r
              WHERE r.channel_id = c.id AND r.at > %(now)s - %(within)s::interval AND r.at <= %(now)s
              ORDER BY r.at DESC LIMIT %(readings)s) AS last
    ) AS gaps
    WHERE gap IS NOT NULL AND (c.interval_s IS NULL OR NOT %(only_new)s)
    GROUP BY c.id HAVING count(*) >= 2
) AS seen
WHERE channel.id = seen.id AND channel.interval_s IS DISTINCT FROM seen.seconds
"""


class Place(NamedTuple):
    """A facility in use. `retention_days` is `None` where the default holds."""

    id: UUID
    slug: str
    retention_days: float | None


class Channel(NamedTuple):
    """A channel as its readings are stored: `unit` is kept in, `full_scale_mm` is a level's at ratio 1."""

    id: int
    name: str
    quantity: str
    unit: str
    full_scale_mm: float | None
    gateway_id: UUID | None


class Heard(NamedTuple):
    """A channel's name, taken apart, with the unit it will be kept in if it is new."""

    name: str
    device: str
    quantity: str
    unit: str


def places(conn: Connection) -> list[Place]:
    """Facilities in use."""
    return [Place(*row) for row in conn.execute(_PLACES)]


def gateway(conn: Connection, facility_id: UUID, slug: str) -> UUID:
    """Id of a gateway, registered as heard but not declared if there was none."""
    row = conn.execute(_GATEWAY, (facility_id, slug)).fetchone()
    if row is None:
        conn.execute(_ADD_GATEWAY, (facility_id, slug))
        row = conn.execute(_GATEWAY, (facility_id, slug)).fetchone()
    if row is None:
        raise LookupError(f"gateway {slug} went as it was registered")
    return row[0]  # type: ignore[no-any-return]


def known(conn: Connection, facility_id: UUID) -> tuple[list[tuple[str, UUID]], list[Channel]]:
    """All gateways of a facility, by slug, and all its channels."""
    gateways = conn.execute(_GATEWAYS, (facility_id,), binary=True).fetchall()
    rows = conn.execute(_ALL, {"facility": facility_id}, binary=True)
    return [(slug, gateway_id) for slug, gateway_id in gateways], [Channel(*row) for row in rows]


def register(
    conn: Connection, facility_id: UUID, gateway_id: UUID | None, heard: Sequence[Heard], *, moves: bool = True
) -> list[Channel]:
    """Channels by these names, heard through a gateway: new ones are registered as attached to nothing.

    A device that was last heard through another gateway has moved to this one. Without a gateway (readings from a file)
    or without `moves` (what is heard late) devices stay where they were.
    """
    names = sorted({one.name for one in heard})
    found = _find(conn, facility_id, names)
    there = {channel.name for channel in found}
    new = sorted({one.name: one for one in heard if one.name not in there}.values())
    if new:
        values = {
            "facility": facility_id,
            "gateway": gateway_id,
            "devices": [one.device for one in new],
            "names": [one.name for one in new],
            "quantities": [one.quantity for one in new],
            "units": [one.unit for one in new],
        }
        conn.execute(_ADD_DEVICES, values)
        conn.execute(_ADD_CHANNELS, values)
        found = _find(conn, facility_id, names)
    if moves and gateway_id is not None and any(channel.gateway_id != gateway_id for channel in found):
        conn.execute(_MOVE, {"facility": facility_id, "gateway": gateway_id, "names": names})
        found = _find(conn, facility_id, names)
    return found


def mark_heard(conn: Connection, heard: Mapping[UUID, datetime]) -> None:
    """Note when each gateway's last pack came."""
    if heard:
        conn.execute(_HEARD, (list(heard), list(heard.values())))


def mark_status(conn: Connection, gateway_id: UUID, status: Literal["online", "offline"], at: datetime) -> None:
    """Note a gateway's birth or will message."""
    conn.execute(_STATUS, {"id": gateway_id, "status": status, "at": at})


def estimate_intervals(conn: Connection, now: datetime, *, only_new: bool) -> int:
    """Bring the usual interval of channels up to their last readings; returns how many changed.

    `only_new` looks at channels that have none yet, which is quick enough for every minute.
    """
    values = {"now": now, "within": INTERVAL_WITHIN, "readings": INTERVAL_READINGS, "only_new": only_new}
    return conn.execute(_INTERVALS, values).rowcount


def _find(conn: Connection, facility_id: UUID, names: list[str]) -> list[Channel]:
    return [Channel(*row) for row in conn.execute(_FIND, {"facility": facility_id, "names": names}, binary=True)]

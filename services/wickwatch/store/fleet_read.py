"""What stands in a facility as of a moment, read in a handful of queries whatever its size.

Not here: changing it (`store.fleet_apply`), nor its declared form (`store.fleet_declared`). What was retired later than
the moment asked for is still there, so that a look back sees the containers of that time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, LiteralString, NamedTuple
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.errors import InputError
from wickwatch.fleet import Channel, Container, Facility, Gateway, Line, Reservoir, Room, Rules, inherit
from wickwatch.fleet.declared import plain
from wickwatch.store.connect import Connection

# Facilities in use, by slug.
_FACILITIES: LiteralString = "SELECT id, slug, zone FROM facility WHERE retired_at IS NULL ORDER BY slug"

# One facility, in use or not.
_FACILITY: LiteralString = "SELECT id, slug, name, zone, rules, advice FROM facility WHERE id = %s"

# Its gateways, those only heard among them.
_GATEWAYS: LiteralString = """
SELECT id, slug, status, status_at, heard_at FROM gateway
WHERE facility_id = %(facility)s AND (retired_at IS NULL OR retired_at > %(as_of)s) ORDER BY slug
"""

# Its rooms. Rules that are not given come as null, since most places give none and parsing costs time.
_ROOMS: LiteralString = """
SELECT id, slug, name, lights_on, lights_off, nullif(rules, '{}') FROM room
WHERE facility_id = %(facility)s AND (retired_at IS NULL OR retired_at > %(as_of)s) ORDER BY slug
"""

# Reservoirs of all its rooms.
_RESERVOIRS: LiteralString = """
SELECT t.id, t.room_id, t.slug, t.name, t.shape, t.keys, t.sensor_zero_mm, t.outlet_mm, t.head_mm,
       nullif(t.rules, '{}')
FROM reservoir t JOIN room r ON r.id = t.room_id
WHERE r.facility_id = %(facility)s AND (t.retired_at IS NULL OR t.retired_at > %(as_of)s) ORDER BY t.slug
"""

# Supply lines of all its rooms.
_LINES: LiteralString = """
SELECT t.id, t.room_id, t.slug, t.name, t.reservoir_id, t.kind
FROM supply_line t JOIN room r ON r.id = t.room_id
WHERE r.facility_id = %(facility)s AND (t.retired_at IS NULL OR t.retired_at > %(as_of)s) ORDER BY t.slug
"""

# Containers of all its rooms.
_CONTAINERS: LiteralString = """
SELECT t.id, t.room_id, t.slug, t.name, t.line_id, t.volume_l, t.medium, t.stands_for, nullif(t.rules, '{}')
FROM container t JOIN room r ON r.id = t.room_id
WHERE r.facility_id = %(facility)s AND (t.retired_at IS NULL OR t.retired_at > %(as_of)s) ORDER BY t.slug
"""

# Channels attached at that moment, with the gateway that their device was last heard through and its battery's channel.
_ATTACHED: LiteralString = """
SELECT coalesce(a.container_id, a.reservoir_id, a.line_id, a.room_id), CASE WHEN a.twin THEN 'twin' ELSE a.quantity END,
       c.id, c.name, c.quantity, d.gateway_id, c.interval_s, lower(a.during), b.id
FROM assignment a JOIN channel c ON c.id = a.channel_id JOIN device d ON d.id = c.device_id
LEFT JOIN channel b ON b.facility_id = %(facility)s AND b.device_id = c.device_id AND b.quantity = 'battery'
    AND b.unit = '%%EL'
WHERE c.facility_id = %(facility)s AND a.during @> %(as_of)s::timestamptz
"""


class Site(NamedTuple):
    """A facility by its id, slug and time zone's name."""

    id: UUID
    slug: str
    zone: str


def facilities(conn: Connection) -> list[Site]:
    """Facilities in use, by slug."""
    return [Site(*row) for row in conn.execute(_FACILITIES)]


def facility_by_slug(conn: Connection, slug: str | None) -> Site:
    """The facility of that slug; without one, the only facility there is. Raises InputError."""
    known = facilities(conn)
    found = known if slug is None else [site for site in known if site.slug == slug]
    if len(found) == 1:
        return found[0]
    names = ", ".join(site.slug for site in known) or "none yet, apply a fleet file first"
    raise InputError("facility", slug, f"one of: {names}")


def load_facility(conn: Connection, facility_id: UUID, as_of: datetime) -> Facility:
    """All that stands in a facility as of a moment, rules inherited. Raises InputError for an unknown id."""
    row = conn.execute(_FACILITY, (facility_id,)).fetchone()
    if row is None:
        raise InputError("facility id", str(facility_id), "the id of a facility")
    slug, name, zone, given, advice = row[1:]
    rules = inherit(Rules(), given, f"facility {slug}")
    asked = {"facility": facility_id, "as_of": as_of}
    parts = _Parts(
        reservoirs=_by_room(conn, _RESERVOIRS, asked),
        lines=_by_room(conn, _LINES, asked),
        containers=_by_room(conn, _CONTAINERS, asked),
        channels=_channels(conn, asked),
    )
    rooms = tuple(_room(row, rules, parts) for row in _rows(conn, _ROOMS, asked))
    gateways = tuple(Gateway(*row) for row in _rows(conn, _GATEWAYS, asked))
    return Facility(facility_id, slug, name, ZoneInfo(zone), rules, rooms, gateways, advice)


_Row = tuple[Any, ...]


@dataclass(frozen=True)
class _Parts:
    """Rows of what stands in rooms, by the room; and channels, by what they are attached to and as what."""

    reservoirs: Mapping[UUID, list[_Row]]
    lines: Mapping[UUID, list[_Row]]
    containers: Mapping[UUID, list[_Row]]
    channels: Mapping[UUID, Mapping[str, Channel]]

    def attached(self, subject: UUID) -> Mapping[str, Channel]:
        return self.channels.get(subject, _NONE)


_NONE: Mapping[str, Channel] = {}


def _rows(conn: Connection, statement: LiteralString, asked: Mapping[str, object]) -> list[_Row]:
    # The binary form, because ids and times by the ten thousand take half the time in it.
    return conn.execute(statement, asked, binary=True).fetchall()


def _by_room(conn: Connection, statement: LiteralString, asked: Mapping[str, object]) -> dict[UUID, list[_Row]]:
    """Rows by their second column, the room."""
    found: dict[UUID, list[_Row]] = {}
    for row in _rows(conn, statement, asked):
        found.setdefault(row[1], []).append(row)
    return found


def _channels(conn: Connection, asked: Mapping[str, object]) -> dict[UUID, dict[str, Channel]]:
    found: dict[UUID, dict[str, Channel]] = {}
    for row in _rows(conn, _ATTACHED, asked):
        found.setdefault(row[0], {})[row[1]] = Channel(*row[2:])
    return found


def _rules(above: Rules, given: Mapping[str, object] | None, what: str, slug: str) -> Rules:
    return above if given is None else inherit(above, given, f"{what} {slug}")


def _room(row: _Row, above: Rules, parts: _Parts) -> Room:
    room_id, slug, name, lights_on, lights_off, given = row
    rules = _rules(above, given, "room", slug)
    air = parts.attached(room_id)
    lines = parts.lines.get(room_id, ())
    return Room(
        room_id, slug, name, lights_on, lights_off, rules,
        reservoirs=tuple(_reservoir(one, rules, parts) for one in parts.reservoirs.get(room_id, ())),
        lines=tuple(Line(id, line, name, reservoir_id, kind) for id, _, line, name, reservoir_id, kind in lines),
        containers=tuple(_container(one, rules, parts) for one in parts.containers.get(room_id, ())),
        temperature=air.get("temperature"),
        humidity=air.get("humidity"),
    )  # fmt: skip


def _reservoir(row: _Row, above: Rules, parts: _Parts) -> Reservoir:
    id, _, slug, name, shape, keys, sensor_zero_mm, outlet_mm, head_mm, given = row
    rules = _rules(above, given, "reservoir", slug)
    level = parts.attached(id).get("level")
    return Reservoir(id, slug, name, shape, plain(keys), sensor_zero_mm, outlet_mm, head_mm, rules, level)


def _container(row: _Row, above: Rules, parts: _Parts) -> Container:
    id, _, slug, name, line_id, volume_l, medium, stands_for, given = row
    rules = _rules(above, given, "container", slug)
    probes = parts.attached(id)
    tension, twin = probes.get("tension"), probes.get("twin")
    return Container(id, slug, name, line_id, volume_l, medium, stands_for, rules, tension, twin)

"""What stands in a facility as of a moment, read in a handful of queries whatever its size.

Not here: changing it (`store.fleet_apply`), nor its declared form (`store.fleet_declared`). What was retired later than
the moment asked for is still there, so that a look back sees the containers of that time.
"""

from __future__ import annotations

from collections.abc import Mapping
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
_FACILITY: LiteralString = "SELECT id, slug, name, zone, rules FROM facility WHERE id = %s"

# Its gateways, those only heard among them.
_GATEWAYS: LiteralString = """
SELECT id, slug, status, status_at, heard_at FROM gateway
WHERE facility_id = %(facility)s AND (retired_at IS NULL OR retired_at > %(as_of)s) ORDER BY slug
"""

# Its rooms.
_ROOMS: LiteralString = """
SELECT id, slug, name, lights_on, lights_off, rules FROM room
WHERE facility_id = %(facility)s AND (retired_at IS NULL OR retired_at > %(as_of)s) ORDER BY slug
"""

# Reservoirs of all its rooms.
_RESERVOIRS: LiteralString = """
SELECT t.id, t.room_id, t.slug, t.name, t.shape, t.keys, t.sensor_zero_mm, t.outlet_mm, t.head_mm, t.rules
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
SELECT t.id, t.room_id, t.slug, t.name, t.line_id, t.volume_l, t.medium, t.stands_for, t.rules
FROM container t JOIN room r ON r.id = t.room_id
WHERE r.facility_id = %(facility)s AND (t.retired_at IS NULL OR t.retired_at > %(as_of)s) ORDER BY t.slug
"""

# Channels attached at that moment, with the gateway that their device was last heard through.
_ATTACHED: LiteralString = """
SELECT coalesce(a.container_id, a.reservoir_id, a.line_id, a.room_id), CASE WHEN a.twin THEN 'twin' ELSE a.quantity END,
       c.id, c.name, c.quantity, d.gateway_id, c.interval_s, lower(a.during)
FROM assignment a JOIN channel c ON c.id = a.channel_id JOIN device d ON d.id = c.device_id
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
    slug, name, zone, given = row[1:]
    rules = inherit(Rules(), given, f"facility {slug}")
    asked = {"facility": facility_id, "as_of": as_of}
    channels: dict[tuple[UUID, str], Channel] = {
        (row[0], row[1]): Channel(*row[2:]) for row in conn.execute(_ATTACHED, asked)
    }
    reservoirs = _by_room(conn, _RESERVOIRS, asked)
    lines = _by_room(conn, _LINES, asked)
    containers = _by_room(conn, _CONTAINERS, asked)
    rooms = tuple(
        _room(
            row,
            rules,
            reservoirs.get(row[0], []),
            lines.get(row[0], []),
            containers.get(row[0], []),
            channels,
        )
        for row in conn.execute(_ROOMS, asked).fetchall()
    )
    gateways = tuple(Gateway(*row) for row in conn.execute(_GATEWAYS, asked))
    return Facility(facility_id, slug, name, ZoneInfo(zone), rules, rooms, gateways)


_Row = tuple[Any, ...]
_Channels = Mapping[tuple[UUID, str], Channel]


def _by_room(conn: Connection, statement: LiteralString, asked: Mapping[str, object]) -> dict[UUID, list[_Row]]:
    """Rows by their second column, the room."""
    found: dict[UUID, list[_Row]] = {}
    for row in conn.execute(statement, asked):
        found.setdefault(row[1], []).append(row)
    return found


def _room(
    row: _Row,
    above: Rules,
    reservoirs: list[_Row],
    lines: list[_Row],
    containers: list[_Row],
    channels: _Channels,
) -> Room:
    room_id, slug, name, lights_on, lights_off, given = row
    rules = inherit(above, given, f"room {slug}")
    return Room(
        room_id, slug, name, lights_on, lights_off, rules,
        reservoirs=tuple(_reservoir(one, rules, channels) for one in reservoirs),
        lines=tuple(Line(id, line, name, reservoir_id, kind) for id, _, line, name, reservoir_id, kind in lines),
        containers=tuple(_container(one, rules, channels) for one in containers),
        temperature=channels.get((room_id, "temperature")),
        humidity=channels.get((room_id, "humidity")),
    )  # fmt: skip


def _reservoir(row: _Row, above: Rules, channels: _Channels) -> Reservoir:
    id, _, slug, name, shape, keys, sensor_zero_mm, outlet_mm, head_mm, given = row
    rules = inherit(above, given, f"reservoir {slug}")
    level = channels.get((id, "level"))
    return Reservoir(id, slug, name, shape, plain(keys), sensor_zero_mm, outlet_mm, head_mm, rules, level)


def _container(row: _Row, above: Rules, channels: _Channels) -> Container:
    id, _, slug, name, line_id, volume_l, medium, stands_for, given = row
    rules = inherit(above, given, f"container {slug}")
    tension, twin = channels.get((id, "tension")), channels.get((id, "twin"))
    return Container(id, slug, name, line_id, volume_l, medium, stands_for, rules, tension, twin)

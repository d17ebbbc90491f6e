"""What stands in facilities now, in the shape in which a fleet file declares it.

Not here: ids, and what was only heard: a gateway or a channel that nobody declared or attached is in no fleet file.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, LiteralString
from uuid import UUID

from wickwatch.fleet.declared import (
    DeclaredContainer,
    DeclaredFacility,
    DeclaredGateway,
    DeclaredLine,
    DeclaredReservoir,
    DeclaredRoom,
    plain,
)
from wickwatch.store.connect import Connection

# Facilities in use: all, or those named.
_FACILITIES: LiteralString = """
SELECT id, slug, name, zone, rules, advice, language, tension_unit, volume_unit, clock FROM facility
WHERE retired_at IS NULL AND (%(slugs)s::text[] IS NULL OR slug = ANY (%(slugs)s)) ORDER BY slug
"""

# Gateways that somebody declared.
_GATEWAYS: LiteralString = """
SELECT facility_id, slug FROM gateway
WHERE facility_id = ANY (%(ids)s) AND declared AND retired_at IS NULL ORDER BY slug
"""

# Rooms in use.
_ROOMS: LiteralString = """
SELECT facility_id, id, slug, name, lights_on, lights_off, rules FROM room
WHERE facility_id = ANY (%(ids)s) AND retired_at IS NULL AND (%(rooms)s::text[] IS NULL OR slug = ANY (%(rooms)s))
ORDER BY slug
"""

# Reservoirs in use.
_RESERVOIRS: LiteralString = """
SELECT t.room_id, t.id, t.slug, t.name, t.shape, t.keys, t.outlet_mm, t.sensor_zero_mm, t.head_mm, t.rules
FROM reservoir t JOIN room r ON r.id = t.room_id
WHERE r.facility_id = ANY (%(ids)s) AND t.retired_at IS NULL
  AND (%(rooms)s::text[] IS NULL OR r.slug = ANY (%(rooms)s))
ORDER BY t.slug
"""

# Lines in use, each with the reservoir that feeds it.
_LINES: LiteralString = """
SELECT t.room_id, t.id, t.slug, t.name, t.kind, s.slug
FROM supply_line t JOIN room r ON r.id = t.room_id
LEFT JOIN reservoir s ON s.id = t.reservoir_id AND s.retired_at IS NULL
WHERE r.facility_id = ANY (%(ids)s) AND t.retired_at IS NULL
  AND (%(rooms)s::text[] IS NULL OR r.slug = ANY (%(rooms)s))
ORDER BY t.slug
"""

# Containers in use, each with its line.
_CONTAINERS: LiteralString = """
SELECT t.room_id, t.id, t.slug, t.name, s.slug, t.volume_l, t.medium, t.stands_for, t.rules
FROM container t JOIN room r ON r.id = t.room_id
LEFT JOIN supply_line s ON s.id = t.line_id AND s.retired_at IS NULL
WHERE r.facility_id = ANY (%(ids)s) AND t.retired_at IS NULL
  AND (%(rooms)s::text[] IS NULL OR r.slug = ANY (%(rooms)s))
ORDER BY t.slug
"""

# What is attached until further notice.
_ATTACHED: LiteralString = """
SELECT coalesce(a.container_id, a.reservoir_id, a.line_id, a.room_id),
       CASE WHEN a.twin THEN 'twin' ELSE a.quantity END, c.name
FROM assignment a JOIN channel c ON c.id = a.channel_id
WHERE c.facility_id = ANY (%(ids)s) AND upper_inf(a.during)
"""

# The same in some rooms, from the few things that stand there.
_ATTACHED_IN: LiteralString = """
WITH there AS (
    SELECT id FROM room WHERE facility_id = ANY (%(ids)s) AND slug = ANY (%(rooms)s) AND retired_at IS NULL
)
SELECT s.id, CASE WHEN a.twin THEN 'twin' ELSE a.quantity END, c.name
FROM (
    SELECT id FROM there
    UNION ALL SELECT id FROM reservoir WHERE room_id IN (SELECT id FROM there)
    UNION ALL SELECT id FROM supply_line WHERE room_id IN (SELECT id FROM there)
    UNION ALL SELECT id FROM container WHERE room_id IN (SELECT id FROM there)
) s
JOIN assignment a ON coalesce(a.container_id, a.reservoir_id, a.line_id, a.room_id) = s.id AND upper_inf(a.during)
JOIN channel c ON c.id = a.channel_id
"""

_Row = tuple[Any, ...]
_Grouped = dict[UUID, list[_Row]]
_Channels = dict[UUID, dict[str, Any]]


def declared(
    conn: Connection, slugs: Sequence[str] | None = None, rooms: Sequence[str] | None = None
) -> tuple[DeclaredFacility, ...]:
    """Facilities in use, by slug: all of them, or those named that are there.

    `rooms` names the only rooms to read, so that an edit of one costs what that one holds.
    """
    rows = conn.execute(_FACILITIES, {"slugs": None if slugs is None else list(slugs)}).fetchall()
    ids = [row[0] for row in rows]
    asked = {"ids": ids, "rooms": None if rooms is None else list(rooms)}
    channels: _Channels = {}
    for subject, field, name in conn.execute(_ATTACHED if rooms is None else _ATTACHED_IN, asked):
        channels.setdefault(subject, {})[field] = name
    found = _rooms(conn, asked, channels)
    gateways = _grouped(conn, _GATEWAYS, asked)
    return tuple(
        DeclaredFacility(
            slug=slug,
            name=name,
            zone=zone,
            language=language,
            tension_unit=tension_unit,
            volume_unit=volume_unit,
            clock=clock,
            rules=rules,
            advice=advice,
            gateways=tuple(DeclaredGateway(one[1]) for one in gateways.get(id, [])),
            rooms=tuple(found.get(id, [])),
        )
        for id, slug, name, zone, rules, advice, language, tension_unit, volume_unit, clock in rows
    )


def _rooms(conn: Connection, asked: Mapping[str, object], channels: _Channels) -> dict[UUID, list[DeclaredRoom]]:
    reservoirs = _grouped(conn, _RESERVOIRS, asked)
    lines = _grouped(conn, _LINES, asked)
    containers = _grouped(conn, _CONTAINERS, asked)
    found: dict[UUID, list[DeclaredRoom]] = {}
    for facility_id, id, slug, name, lights_on, lights_off, rules in conn.execute(_ROOMS, asked).fetchall():
        room = DeclaredRoom(
            slug=slug,
            name=name,
            lights_on=lights_on,
            lights_off=lights_off,
            rules=rules,
            **channels.get(id, {}),
            reservoirs=tuple(_reservoir(row, channels) for row in reservoirs.get(id, [])),
            lines=tuple(_line(row, channels) for row in lines.get(id, [])),
            containers=tuple(_container(row, channels) for row in containers.get(id, [])),
        )
        found.setdefault(facility_id, []).append(room)
    return found


def _reservoir(row: _Row, channels: _Channels) -> DeclaredReservoir:
    _, id, slug, name, shape, keys, outlet_mm, sensor_zero_mm, head_mm, rules = row
    measured = channels.get(id, {})
    return DeclaredReservoir(slug, name, shape, plain(keys), outlet_mm, sensor_zero_mm, head_mm, rules, **measured)


def _line(row: _Row, channels: _Channels) -> DeclaredLine:
    _, id, slug, name, kind, reservoir = row
    return DeclaredLine(slug, name, kind, reservoir, **channels.get(id, {}))


def _container(row: _Row, channels: _Channels) -> DeclaredContainer:
    _, id, slug, name, line, volume_l, medium, stands_for, rules = row
    return DeclaredContainer(slug, name, line, volume_l, medium, stands_for, rules, **channels.get(id, {}))


def _grouped(conn: Connection, statement: LiteralString, asked: Mapping[str, object]) -> _Grouped:
    """Rows by their first column: the facility or room they stand in."""
    found: _Grouped = {}
    for row in conn.execute(statement, asked):
        found.setdefault(row[0], []).append(row)
    return found

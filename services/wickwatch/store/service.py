"""Parts out of service: who took what out, until when and why.

Not here: what it means for alarms (`alarms.service`).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import LiteralString, cast
from uuid import UUID

from wickwatch.alarms import PART_TYPES, PartType, Period
from wickwatch.alarms.policy import OUT_OF_SERVICE_MOST
from wickwatch.alarms.words import lasting
from wickwatch.errors import InputError, RefusedError
from wickwatch.store.connect import Connection
from wickwatch.texts import _

NOTE_LONGEST = 500

# A part of a facility by type and id, with its room where it stands in one; a device may be attached to nothing.
_PART: LiteralString = """
WITH part (type, id, name, facility_id, room_id) AS (
    SELECT 'room', r.id, r.name, r.facility_id, r.id FROM room r WHERE r.retired_at IS NULL
    UNION ALL SELECT 'reservoir', p.id, p.name, r.facility_id, r.id FROM reservoir p JOIN room r ON r.id = p.room_id
        WHERE p.retired_at IS NULL
    UNION ALL SELECT 'line', p.id, p.name, r.facility_id, r.id FROM supply_line p JOIN room r ON r.id = p.room_id
        WHERE p.retired_at IS NULL
    UNION ALL SELECT 'container', p.id, p.name, r.facility_id, r.id FROM container p JOIN room r ON r.id = p.room_id
        WHERE p.retired_at IS NULL
    UNION ALL SELECT 'gateway', id, slug, facility_id, NULL FROM gateway WHERE retired_at IS NULL
    UNION ALL SELECT 'device', d.id, d.urn, d.facility_id, (
        SELECT coalesce(c.room_id, v.room_id, l.room_id, a.room_id) FROM channel h
        JOIN assignment a ON a.channel_id = h.id AND a.during @> %(at)s::timestamptz
        LEFT JOIN container c ON c.id = a.container_id LEFT JOIN reservoir v ON v.id = a.reservoir_id
        LEFT JOIN supply_line l ON l.id = a.line_id WHERE h.device_id = d.id LIMIT 1) FROM device d
)
SELECT id, name, facility_id, room_id FROM part
WHERE type = %(type)s AND facility_id = ANY(%(facilities)s)
    AND (id::text = %(part)s OR (type = 'device' AND name = %(part)s))
"""

# One more period.
_ADD: LiteralString = """
INSERT INTO out_of_service (facility_id, room_id, type, part_id, name, since, until, note, person_id)
VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s) RETURNING id
"""

# A period of one of these facilities that is not over, ended now.
_END: LiteralString = """
UPDATE out_of_service SET ended_at = %(at)s, ended_by = %(person)s
WHERE id = %(id)s AND facility_id = ANY(%(facilities)s) AND ended_at IS NULL AND until > %(at)s RETURNING facility_id
"""

# Whether there is such a period at all.
_EXISTS: LiteralString = "SELECT FROM out_of_service WHERE id = %s AND facility_id = ANY(%s)"

# Periods of a span, and those that an open alarm names.
_AROUND: LiteralString = """
SELECT id, type, part_id, name, since, until, note, person_id, ended_at, ended_by FROM out_of_service
WHERE facility_id = %(facility)s AND ((since <= %(end)s AND coalesce(ended_at, until) >= %(start)s)
    OR id IN (SELECT service_id FROM alarm WHERE facility_id = %(facility)s AND closed_at IS NULL))
ORDER BY id
"""

# Periods with the names around them, and of a device what it measures; those that end first first.
_LIST: LiteralString = """
SELECT o.id, o.type, o.part_id, o.name, o.since, o.until, o.note, o.person_id, o.ended_at, o.ended_by, f.id, f.slug,
    r.id, r.slug, p.name, ARRAY(
        SELECT coalesce(a.container_id, a.reservoir_id) FROM channel h
        JOIN assignment a ON a.channel_id = h.id AND a.during @> %(at)s::timestamptz
        WHERE o.type = 'device' AND h.device_id = o.part_id AND num_nonnulls(a.container_id, a.reservoir_id) = 1)
FROM out_of_service o JOIN facility f ON f.id = o.facility_id LEFT JOIN room r ON r.id = o.room_id
LEFT JOIN person p ON p.id = o.person_id
WHERE o.facility_id = ANY(%(facilities)s) AND (%(room)s::uuid IS NULL OR o.room_id = %(room)s)
    AND (%(id)s::uuid IS NULL OR o.id = %(id)s) AND (%(past)s OR (o.until > %(at)s AND o.ended_at IS NULL))
ORDER BY o.until, o.id LIMIT %(limit)s
"""

# Devices that measure something in a room at a moment, by what they measure.
_DEVICES: LiteralString = """
SELECT DISTINCT d.urn, coalesce(c.name, v.name, l.name, r.name) || CASE WHEN a.twin THEN ', second' ELSE '' END
FROM assignment a JOIN channel h ON h.id = a.channel_id JOIN device d ON d.id = h.device_id
LEFT JOIN container c ON c.id = a.container_id LEFT JOIN reservoir v ON v.id = a.reservoir_id
LEFT JOIN supply_line l ON l.id = a.line_id LEFT JOIN room r ON r.id = a.room_id
WHERE a.during @> %(at)s::timestamptz AND %(room)s IN (c.room_id, v.room_id, l.room_id, a.room_id)
ORDER BY 2, 1
"""


@dataclass(frozen=True)
class Device:
    """A probe or a sensor by its URN, and the name of what it measures."""

    urn: str
    measures: str


@dataclass(frozen=True)
class Listed:
    """A period with the names around it; `measures` are the ids of the containers and reservoirs a device tells of."""

    period: Period
    facility_id: UUID
    facility: str
    room_id: UUID | None
    room: str | None
    person: str | None
    measures: Sequence[UUID] = ()


def add(
    conn: Connection,
    facilities: Collection[UUID],
    *,
    type: str,
    part: str,
    until: datetime,
    now: datetime,
    person_id: UUID | None,
    note: str = "",
) -> Listed:
    """Take a part of one of `facilities` out of service from now on; `part` is its id, or a device's URN.

    Raises InputError for what can't be taken. Alarms there are put out of service by the next step.
    """
    if type not in PART_TYPES:
        raise InputError(_("what is out of service"), type, ", ".join(PART_TYPES))
    if until.tzinfo is None or not now < until <= now + OUT_OF_SERVICE_MOST:
        accepted = _("a time with its zone, from now to %(lasting)s ahead", lasting=lasting(OUT_OF_SERVICE_MOST))
        raise InputError(_("end of being out of service"), until.isoformat(), accepted)
    if len(note) > NOTE_LONGEST or "\x00" in note:
        raise InputError(_("note"), note, _("at most %(most)s characters of text", most=NOTE_LONGEST))
    given = {"type": type, "part": part, "facilities": list(facilities), "at": now}
    rows = conn.execute(_PART, given).fetchall()
    if len(rows) != 1:
        accepted = "an id" if rows else _("an id, or for a device its URN, of something in a facility you may see")
        raise InputError(type, part, accepted)
    part_id, name, facility_id, room_id = rows[0]
    values = (facility_id, room_id, type, part_id, name, now, until, note, person_id)
    added = conn.execute(_ADD, values).fetchone()
    assert added is not None
    (period,) = listed(conn, [facility_id], now, id=added[0])
    return period


def end(conn: Connection, facilities: Collection[UUID], id: UUID, now: datetime, person_id: UUID | None) -> UUID:
    """End a period before its end; returns its facility. Raises InputError, or RefusedError where it is over."""
    given = {"id": id, "at": now, "person": person_id, "facilities": list(facilities)}
    row = conn.execute(_END, given).fetchone()
    if row is not None:
        facility_id: UUID = row[0]
        return facility_id
    if conn.execute(_EXISTS, (id, list(facilities))).fetchone() is None:
        raise InputError(_("period out of service"), str(id), _("the id of one of a facility you may see"))
    raise RefusedError(_("it is in service again already"))


def around(conn: Connection, facility_id: UUID, start: datetime, end: datetime) -> list[Period]:
    """Periods that the steps of [start, end] need: those that hold then, and those that open alarms name."""
    given = {"facility": facility_id, "start": start, "end": end}
    return [_period(row) for row in conn.execute(_AROUND, given)]


def listed(
    conn: Connection,
    facilities: Collection[UUID],
    at: datetime,
    *,
    room_id: UUID | None = None,
    id: UUID | None = None,
    past: bool = False,
    limit: int = 1000,
) -> list[Listed]:
    """Periods that hold at a moment, and with `past` those that are over; what ends first comes first.

    `room_id` asks for those of one room, `id` for one alone.
    """
    given = {"facilities": list(facilities), "room": room_id, "id": id, "past": past, "at": at, "limit": limit}
    return [Listed(_period(row[:10]), *row[10:]) for row in conn.execute(_LIST, given)]


def devices(conn: Connection, room_id: UUID, at: datetime) -> list[Device]:
    """Devices that measure something in a room at a moment, by what they measure."""
    return [Device(*row) for row in conn.execute(_DEVICES, {"room": room_id, "at": at})]


def _period(row: tuple[object, ...]) -> Period:
    id, type, *rest = row
    return Period(cast(UUID, id), cast(PartType, type), *rest)  # type: ignore[arg-type]

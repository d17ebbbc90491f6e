"""What leaves the database for a file: which readings, and alarms and work entries as rows.

Not here: the readings themselves (`store.readings.series`), nor any file. Rows come through a cursor on the server, so
that a year of them needs no more memory than a page.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any, LiteralString, NamedTuple
from uuid import UUID

from wickwatch.store.connect import Connection

# Channels of a facility with readings kept, over the whole time asked for.
_CHANNELS: LiteralString = """
SELECT id, name, quantity, unit, %(start)s::timestamptz, %(end)s::timestamptz
FROM channel WHERE facility_id = %(facility)s ORDER BY name
"""

# Channels while they measured a room or something in it.
_CHANNELS_OF_ROOM: LiteralString = """
SELECT c.id, c.name, c.quantity, c.unit, greatest(lower(a.during), %(start)s), least(upper(a.during), %(end)s)
FROM assignment a JOIN channel c ON c.id = a.channel_id
LEFT JOIN container p ON p.id = a.container_id
LEFT JOIN reservoir v ON v.id = a.reservoir_id
LEFT JOIN supply_line l ON l.id = a.line_id
WHERE c.facility_id = %(facility)s AND coalesce(a.room_id, p.room_id, v.room_id, l.room_id) = ANY (%(rooms)s)
  AND a.during && tstzrange(%(start)s, %(end)s)
ORDER BY c.name, 5
"""

# Rooms of a slug, the retired among them, and every slug there is.
_ROOMS: LiteralString = """
SELECT array_agg(id) FILTER (WHERE slug = %(slug)s), array_agg(DISTINCT slug::text ORDER BY slug::text)
FROM room WHERE facility_id = %(facility)s
"""

# Alarms raised within a time.
_ALARMS: LiteralString = """
SELECT a.id::text, a.kind, a.priority, a.state, f.slug::text, r.slug::text, a.subject_type, a.subject_id::text,
       a.subject_name, a.raised_at, a.acknowledged_at, p.name, a.cleared_at, a.closed_at, a.outcome, a.message,
       a.evidence::text, a.cause_id::text
FROM alarm a JOIN facility f ON f.id = a.facility_id
LEFT JOIN room r ON r.id = a.room_id LEFT JOIN person p ON p.id = a.acknowledged_by
WHERE a.facility_id = %(facility)s AND a.raised_at >= %(start)s AND a.raised_at < %(end)s
  AND (%(rooms)s::uuid[] IS NULL OR a.room_id = ANY (%(rooms)s))
ORDER BY a.raised_at, a.id
"""
ALARM_COLUMNS = (
    "id", "kind", "priority", "state", "facility", "room", "subject_type", "subject_id", "subject_name", "raised_at",
    "acknowledged_at", "acknowledged_by", "cleared_at", "closed_at", "outcome", "message", "evidence", "cause",
)  # fmt: skip

# Work done within a time.
_WORK: LiteralString = """
SELECT w.id::text, w.kind, f.slug::text, r.slug::text, w.subject_type, w.subject_id::text,
       coalesce(c.name, v.name, l.name, own.name, g.slug::text), w.at, w.written_at, p.name, w.alarm_id::text, w.note,
       w.corrects::text, w.withdrawn::text
FROM work_entry w JOIN facility f ON f.id = w.facility_id
LEFT JOIN room r ON r.id = w.room_id
LEFT JOIN container c ON w.subject_type = 'container' AND c.id = w.subject_id
LEFT JOIN reservoir v ON w.subject_type = 'reservoir' AND v.id = w.subject_id
LEFT JOIN supply_line l ON w.subject_type = 'line' AND l.id = w.subject_id
LEFT JOIN room own ON w.subject_type = 'room' AND own.id = w.subject_id
LEFT JOIN gateway g ON w.subject_type = 'gateway' AND g.id = w.subject_id
LEFT JOIN person p ON p.id = w.person_id
WHERE w.facility_id = %(facility)s AND w.at >= %(start)s AND w.at < %(end)s
  AND (%(rooms)s::uuid[] IS NULL OR w.room_id = ANY (%(rooms)s))
ORDER BY w.at, w.id
"""
WORK_COLUMNS = (
    "id", "kind", "facility", "room", "subject_type", "subject_id", "subject_name", "at", "written_at", "person",
    "alarm", "note", "corrects", "withdrawn",
)  # fmt: skip


class Stretch(NamedTuple):
    """A channel from one moment until before another."""

    channel_id: int
    name: str
    quantity: str
    unit: str
    start: datetime
    end: datetime


class Wanted(NamedTuple):
    """What is asked for: a facility, perhaps some of its rooms, from one moment until before another."""

    facility_id: UUID
    rooms: list[UUID] | None
    start: datetime
    end: datetime


def rooms_of_slug(conn: Connection, facility_id: UUID, slug: str) -> tuple[list[UUID], list[str]]:
    """Rooms that have or had this slug, and the slugs of all rooms."""
    row = conn.execute(_ROOMS, {"facility": facility_id, "slug": slug}).fetchone()
    assert row is not None
    return row[0] or [], row[1] or []


def stretches(conn: Connection, wanted: Wanted) -> list[Stretch]:
    """Channels by name, each over the time asked for, or over those parts of it in which it measured the rooms."""
    statement = _CHANNELS if wanted.rooms is None else _CHANNELS_OF_ROOM
    return [Stretch(*row) for row in conn.execute(statement, _values(wanted))]


def alarms(conn: Connection, wanted: Wanted, piece: int) -> Iterator[list[tuple[Any, ...]]]:
    """Alarms raised within the time, oldest first, as `ALARM_COLUMNS`, in lists of up to `piece` rows."""
    return _pieces(conn, _ALARMS, wanted, piece)


def work(conn: Connection, wanted: Wanted, piece: int) -> Iterator[list[tuple[Any, ...]]]:
    """Work done within the time, oldest first, as `WORK_COLUMNS`, in lists of up to `piece` rows."""
    return _pieces(conn, _WORK, wanted, piece)


def _values(wanted: Wanted) -> dict[str, object]:
    return {"facility": wanted.facility_id, "rooms": wanted.rooms, "start": wanted.start, "end": wanted.end}


def _pieces(conn: Connection, statement: LiteralString, wanted: Wanted, piece: int) -> Iterator[list[tuple[Any, ...]]]:
    with conn.cursor("wickwatch_export") as cursor:
        cursor.execute(statement, _values(wanted))
        while rows := cursor.fetchmany(piece):
            yield rows

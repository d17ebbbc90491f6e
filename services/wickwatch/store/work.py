"""Work entries: what people did, where and when. Append-only; a mistake is followed by another entry.

Not here: what follows for detectors and alarms.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import LiteralString
from uuid import UUID

from wickwatch.errors import InputError
from wickwatch.fleet import WORK_KINDS, Work
from wickwatch.store.connect import Connection

#: Work may be written down this long after it was done, and this far ahead of the server's clock at most.
OLDEST = timedelta(days=30)
AHEAD = timedelta(minutes=5)

NOTE_LONGEST = 2000

# What the work is about, the facility it is in, and its room where it has one.
_PLACE: LiteralString = """
WITH part (type, id, room_id) AS (
    SELECT 'room', id, id FROM room
    UNION ALL SELECT 'reservoir', id, room_id FROM reservoir
    UNION ALL SELECT 'line', id, room_id FROM supply_line
    UNION ALL SELECT 'container', id, room_id FROM container
)
SELECT room.facility_id, room.id FROM part JOIN room ON room.id = part.room_id
WHERE part.type = %(type)s AND part.id = %(id)s
UNION ALL SELECT facility_id, NULL FROM gateway WHERE %(type)s = 'gateway' AND id = %(id)s
"""

# Whether an alarm is one of the facility's.
_ALARM: LiteralString = "SELECT FROM alarm WHERE id = %s AND facility_id = %s"

# One more entry.
_ADD: LiteralString = """
INSERT INTO work_entry (facility_id, room_id, kind, subject_type, subject_id, at, written_at, person_id, alarm_id, note)
VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s)
RETURNING id, (SELECT name FROM person WHERE id = work_entry.person_id)
"""

# Work done in a facility since a moment, the oldest first.
_RECENT: LiteralString = """
SELECT w.id, w.kind, w.subject_type, w.subject_id, w.room_id, w.at, p.name, w.note, w.written_at, w.person_id,
    w.alarm_id
FROM work_entry w LEFT JOIN person p ON p.id = w.person_id
WHERE w.facility_id = %s AND w.at >= %s ORDER BY w.at, w.id
"""


@dataclass(frozen=True)
class Entry(Work):
    """A work entry as it is kept: also when it was written down, by whom, and from which alarm."""

    written_at: datetime | None = None
    person_id: UUID | None = None
    alarm_id: UUID | None = None


def add(
    conn: Connection,
    facilities: Collection[UUID],
    *,
    kind: str,
    subject_type: str,
    subject_id: UUID,
    at: datetime,
    now: datetime,
    person_id: UUID | None = None,
    alarm_id: UUID | None = None,
    note: str = "",
) -> Entry:
    """Record work done at `at` on something in one of `facilities`. Raises InputError for what can't be taken."""
    if kind not in WORK_KINDS:
        raise InputError("kind of work", kind, ", ".join(sorted(WORK_KINDS)))
    if subject_type not in WORK_KINDS[kind]:
        raise InputError(f"subject of {kind}", subject_type, " or ".join(WORK_KINDS[kind]))
    if at.tzinfo is None or not now - OLDEST <= at <= now + AHEAD:
        raise InputError("time of the work", at.isoformat(), f"a time with its zone in the last {OLDEST.days} days")
    if len(note) > NOTE_LONGEST or "\x00" in note:
        raise InputError("note", note, f"at most {NOTE_LONGEST} characters of text")
    row = conn.execute(_PLACE, {"type": subject_type, "id": subject_id}).fetchone()
    if row is None or row[0] not in facilities:
        raise InputError(subject_type, str(subject_id), f"the id of a {subject_type} of a facility you may see")
    facility_id, room_id = row
    if alarm_id is not None and conn.execute(_ALARM, (alarm_id, facility_id)).fetchone() is None:
        raise InputError("alarm", str(alarm_id), "the id of an alarm of the same facility")
    values = (facility_id, room_id, kind, subject_type, subject_id, at, now, person_id, alarm_id, note)
    added = conn.execute(_ADD, values).fetchone()
    assert added is not None
    id, person = added
    return Entry(id, kind, subject_type, subject_id, room_id, at, person, note, now, person_id, alarm_id)


def recent(conn: Connection, facility_id: UUID, since: datetime) -> list[Entry]:
    """Work done in a facility since a moment, the oldest first."""
    return [Entry(*row) for row in conn.execute(_RECENT, (facility_id, since))]

"""Work entries: what people did, where and when. Append-only; a mistake is followed by a row that corrects it.

Not here: what follows for detectors and alarms, nor whether the work helped (`store.judged`).
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, LiteralString
from uuid import UUID

from wickwatch.errors import InputError, RefusedError
from wickwatch.fleet import WORK_KINDS, Work
from wickwatch.store.connect import Connection
from wickwatch.texts import _

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
INSERT INTO work_entry (facility_id, room_id, kind, subject_type, subject_id, at, written_at, person_id, alarm_id, note,
    corrects, withdrawn)
VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s)
RETURNING id, (SELECT name FROM person WHERE id = work_entry.person_id)
"""

# Work done in a facility between two moments, the oldest first, as it stands after corrections.
_RECENT: LiteralString = """
SELECT w.id, w.kind, w.subject_type, w.subject_id, w.room_id, w.at, p.name, w.note, w.written_at, w.person_id,
    w.alarm_id, w.corrects
FROM work_entry w LEFT JOIN person p ON p.id = w.person_id
WHERE w.facility_id = %(facility)s AND w.at >= %(start)s AND (%(end)s::timestamptz IS NULL OR w.at < %(end)s)
  AND NOT w.withdrawn AND NOT EXISTS (SELECT FROM work_entry c WHERE c.corrects = w.id)
ORDER BY w.at, w.id
"""

# One entry as it stands, kept from being corrected by somebody else until the transaction ends.
_ONE: LiteralString = """
SELECT w.facility_id, w.room_id, w.kind, w.subject_type, w.subject_id, w.at, w.alarm_id, w.note,
    EXISTS (SELECT FROM work_entry c WHERE c.corrects = w.id) OR w.withdrawn
FROM work_entry w WHERE w.id = %s FOR NO KEY UPDATE
"""


# One entry of some facilities, and whether it still stands.
_KEPT: LiteralString = """
SELECT w.facility_id, EXISTS (SELECT FROM work_entry c WHERE c.corrects = w.id) OR w.withdrawn,
    w.id, w.kind, w.subject_type, w.subject_id, w.room_id, w.at, p.name, w.note, w.written_at, w.person_id,
    w.alarm_id, w.corrects
FROM work_entry w LEFT JOIN person p ON p.id = w.person_id
WHERE w.id = %s AND w.facility_id = ANY (%s)
"""


@dataclass(frozen=True)
class Entry(Work):
    """A work entry as it is kept: also when it was written down, by whom, from which alarm, and in place of which."""

    written_at: datetime | None = None
    person_id: UUID | None = None
    alarm_id: UUID | None = None
    corrects: UUID | None = None


@dataclass(frozen=True)
class Kept:
    """An entry, the facility it is of, and whether it was corrected or withdrawn since."""

    facility_id: UUID
    corrected: bool
    entry: Entry


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
    corrects: UUID | None = None,
) -> Entry:
    """Record work done at `at` on something in one of `facilities`; `corrects` is the entry it stands in place of.

    Raises InputError for what can't be taken, RefusedError where that entry was corrected before.
    """
    if kind not in WORK_KINDS:
        raise InputError(_("kind of work"), kind, ", ".join(sorted(WORK_KINDS)))
    if subject_type not in WORK_KINDS[kind]:
        raise InputError(_("subject of %(kind)s", kind=kind), subject_type, " or ".join(WORK_KINDS[kind]))
    if at.tzinfo is None or not now - OLDEST <= at <= now + AHEAD:
        accepted = _("a time with its zone, in the last %(num)s days and not ahead of now", num=OLDEST.days)
        raise InputError(_("time of the work"), at.isoformat(), accepted)
    if len(note) > NOTE_LONGEST or "\x00" in note:
        raise InputError(_("note"), note, _("at most %(most)s characters of text", most=NOTE_LONGEST))
    row = conn.execute(_PLACE, {"type": subject_type, "id": subject_id}).fetchone()
    if row is None or row[0] not in facilities:
        raise InputError(
            subject_type,
            str(subject_id),
            _("the id of a %(subject_type)s of a facility you may see", subject_type=subject_type),
        )
    facility_id, room_id = row
    if alarm_id is not None and conn.execute(_ALARM, (alarm_id, facility_id)).fetchone() is None:
        raise InputError(_("alarm"), str(alarm_id), _("the id of an alarm of the same facility"))
    if corrects is not None and _standing(conn, corrects, facilities)[0] != facility_id:
        raise InputError(_("corrected entry"), str(corrects), _("the id of an entry of the same facility"))
    values = (facility_id, room_id, kind, subject_type, subject_id, at, now, person_id, alarm_id, note, corrects, False)
    added = conn.execute(_ADD, values).fetchone()
    assert added is not None
    id, person = added
    return Entry(id, kind, subject_type, subject_id, room_id, at, person, note, now, person_id, alarm_id, corrects)


def withdraw(
    conn: Connection, entry_id: UUID, facilities: Collection[UUID], now: datetime, person_id: UUID | None
) -> None:
    """Say that what an entry of one of `facilities` tells was not done; the entry stays and counts no more.

    Raises InputError where there is no such entry, RefusedError where it was corrected before.
    """
    facility_id, room_id, kind, subject_type, subject_id, at, alarm_id, note = _standing(conn, entry_id, facilities)
    values = (facility_id, room_id, kind, subject_type, subject_id, at, now, person_id, alarm_id, note, entry_id, True)
    conn.execute(_ADD, values)


def recent(conn: Connection, facility_id: UUID, since: datetime, until: datetime | None = None) -> list[Entry]:
    """Work done in a facility since a moment (and before `until`), the oldest first, as it stands after corrections."""
    return [
        Entry(*row) for row in conn.execute(_RECENT, {"facility": facility_id, "start": since, "end": until}).fetchall()
    ]


def kept(conn: Connection, entry_id: UUID, facilities: Collection[UUID]) -> Kept | None:
    """One entry of some facilities, or None."""
    row = conn.execute(_KEPT, (entry_id, list(facilities))).fetchone()
    return None if row is None else Kept(row[0], row[1], Entry(*row[2:]))


def _standing(conn: Connection, entry_id: UUID, facilities: Collection[UUID]) -> tuple[Any, ...]:
    """Columns of an entry that nobody has corrected yet."""
    row = conn.execute(_ONE, (entry_id,)).fetchone()
    if row is None or row[0] not in facilities:
        raise InputError(_("work entry"), str(entry_id), _("the id of a work entry of a facility you may see"))
    *columns, corrected = row
    if corrected:
        raise RefusedError(_("somebody has already corrected this entry; correct the newer one"))
    return tuple(columns)

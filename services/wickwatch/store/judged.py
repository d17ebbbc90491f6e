"""Work done in a facility, each entry with whether it helped; taken from the alarms' journal.

An alarm's journal judges the work that was to mend it: when the alarm clears, by how long after the work that was; when
it speaks up again because nothing got better, that it did not help. The newest judgement counts. Not here: when that is
written (`alarms.verdict`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import LiteralString
from uuid import UUID

from wickwatch.store import work
from wickwatch.store.connect import Connection
from wickwatch.store.work import Entry

# Judgements that a facility's alarms wrote since a moment, the oldest first.
_JUDGED: LiteralString = """
SELECT a.id, a.kind, j.detail -> 'judged' FROM alarm_journal j JOIN alarm a ON a.id = j.alarm_id
WHERE a.facility_id = %s AND j.at >= %s AND j.detail ? 'judged' ORDER BY j.at, j.version
"""


@dataclass(frozen=True)
class Judged:
    """A work entry and what an alarm says of it.

    `helped` is None where no alarm was to be mended by it, or it is too early to tell. `after` is how long after the
    work things were right again; `alarm_id` and `alarm_kind` name the alarm that says so.
    """

    entry: Entry
    helped: bool | None = None
    after: timedelta | None = None
    alarm_id: UUID | None = None
    alarm_kind: str | None = None


def judged(
    conn: Connection, facility_id: UUID, start: datetime, end: datetime, room_id: UUID | None = None
) -> list[Judged]:
    """Work done in [start, end) in a facility, or in one of its rooms, the oldest first, as it stands now."""
    said: dict[UUID, tuple[UUID, str, float | None]] = {}
    for alarm_id, kind, judgements in conn.execute(_JUDGED, (facility_id, start)):
        for entry_id, seconds in judgements.items():
            said[UUID(entry_id)] = (alarm_id, kind, seconds)
    return [
        _judged(entry, said.get(entry.id))
        for entry in work.recent(conn, facility_id, start, end)
        if room_id in (None, entry.room_id)
    ]


def _judged(entry: Entry, said: tuple[UUID, str, float | None] | None) -> Judged:
    if said is None:
        return Judged(entry)
    alarm_id, kind, seconds = said
    after = None if seconds is None else timedelta(seconds=seconds)
    return Judged(entry, seconds is not None, after, alarm_id, kind)

"""Alarms as they were at any past moment, rebuilt from the journal alone.

Not here: what an entry does to an alarm (`alarms.journal`), nor alarms as they are now (`store.alarms`).
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from itertools import groupby
from typing import LiteralString
from uuid import UUID

from wickwatch.alarms import Alarm, JournalEntry, as_of
from wickwatch.store.connect import Connection

# Journals of the alarms of facilities that were open at some moment: raised by then, and not closed before it.
_ENTRIES: LiteralString = """
SELECT j.alarm_id, j.version, j.at, j.event, j.state, j.person_id, j.detail
FROM alarm a JOIN alarm_journal j ON j.alarm_id = a.id
WHERE a.facility_id = ANY(%(facilities)s) AND a.raised_at <= %(at)s AND (a.closed_at IS NULL OR a.closed_at >= %(at)s)
ORDER BY j.alarm_id, j.version
"""


def standing_at(conn: Connection, facilities: Collection[UUID], at: datetime) -> list[Alarm]:
    """Every alarm of facilities that was open at a past moment, as it was then, the newest first."""
    rows = conn.execute(_ENTRIES, {"facilities": list(facilities), "at": at})
    by_alarm = groupby((JournalEntry(*row) for row in rows), key=lambda entry: entry.alarm_id)
    then = [alarm for _, entries in by_alarm if (alarm := as_of(entries, at)) is not None and alarm.closed_at is None]
    return sorted(then, key=lambda alarm: (alarm.raised_at, alarm.id), reverse=True)

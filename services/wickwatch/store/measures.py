"""The journal and the calls of a span, read for measures of how the alarms serve.

Not here: the measures (`alarms.measures`).
"""

from __future__ import annotations

from datetime import datetime
from typing import LiteralString
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.alarms import JournalEntry
from wickwatch.alarms.measures import AFTER, BEFORE, Measures, measure
from wickwatch.alarms.measures_frame import Called, calls_frame, journal_frame
from wickwatch.store.connect import Connection

# Everything that happened, until a moment, to alarms of a facility that were open at some time in a span.
_JOURNAL: LiteralString = """
SELECT j.alarm_id, j.version, j.at, j.event, j.state, j.person_id, j.detail
FROM alarm a JOIN alarm_journal j ON j.alarm_id = a.id
WHERE a.facility_id = %(facility)s AND a.raised_at < %(until)s AND (a.closed_at IS NULL OR a.closed_at >= %(since)s)
  AND j.at < %(until)s
ORDER BY j.alarm_id, j.version
"""

# Alarms brought to people in a span, one by one or in a summary.
_CALLS: LiteralString = """
SELECT c.at, c.alarm_id, c.person_id, p.name FROM alarm_call c JOIN person p ON p.id = c.person_id
WHERE c.facility_id = %(facility)s AND c.at >= %(since)s AND c.at < %(until)s AND c.state <> 'dropped'
ORDER BY c.at, c.alarm_id, c.version, c.person_id
"""

# Names of everybody who did something to an alarm of a facility in a span.
_NAMES: LiteralString = """
SELECT DISTINCT p.id::text, p.name
FROM alarm_journal j JOIN alarm a ON a.id = j.alarm_id JOIN person p ON p.id = j.person_id
WHERE a.facility_id = %(facility)s AND j.at >= %(since)s AND j.at < %(until)s
"""


def journal(conn: Connection, facility_id: UUID, since: datetime, until: datetime) -> list[JournalEntry]:
    """What happened until `until` to the alarms that were open at some time from `since` on, each from its first."""
    values = {"facility": facility_id, "since": since, "until": until}
    return [JournalEntry(*row) for row in conn.execute(_JOURNAL, values)]


def calls(conn: Connection, facility_id: UUID, since: datetime, until: datetime) -> list[Called]:
    """Alarms brought to people in [since, until), in order."""
    values = {"facility": facility_id, "since": since, "until": until}
    return [Called(*row) for row in conn.execute(_CALLS, values)]


def of_facility(
    conn: Connection, facility_id: UUID, zone: ZoneInfo, start: datetime, end: datetime, now: datetime
) -> Measures:
    """The measures of a facility over [start, end), or until now where that is sooner. `start` is before now."""
    since, until = start - BEFORE, min(end + AFTER, now)
    values = {"facility": facility_id, "since": since, "until": until}
    return measure(
        journal_frame(journal(conn, facility_id, since, until)),
        calls_frame(calls(conn, facility_id, since, until)),
        start,
        min(end, now),
        zone,
        dict(conn.execute(_NAMES, values).fetchall()),
    )

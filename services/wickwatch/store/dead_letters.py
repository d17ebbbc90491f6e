"""Calls and reports that never arrived: shown with the reason, and tried again when somebody says so.

Not here: how a notice comes to be dead (`store.notices`).
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import LiteralString
from uuid import UUID

from wickwatch.errors import RefusedError
from wickwatch.store.connect import Connection
from wickwatch.store.notices import QUEUED
from wickwatch.texts import _

#: A notice tried again by hand is worth sending at least this long.
AGAIN = timedelta(hours=1)

# Dead letters of facilities, and one person's own in any, the newest first. One may be tried again while its contact
# is in use and its alarm, or one of a summary's, still asks for somebody.
_UNDELIVERED: LiteralString = """
SELECT n.id, f.name, f.zone, n.alarm_id, p.name, n.way, n.address, n.title, n.tries, n.done_at,
    (SELECT t.detail FROM notice_attempt t WHERE t.notice_id = n.id ORDER BY t.try DESC LIMIT 1),
    c.removed_at IS NULL AND p.disabled_at IS NULL
        AND (a.id IS NOT NULL OR NOT is_answered(n.key))
        AND (a.id IS NULL OR a.state IN ('unacknowledged', 'returned-unacknowledged'))
FROM notice n JOIN facility f ON f.id = n.facility_id
LEFT JOIN person p ON p.id = n.person_id
LEFT JOIN contact c ON c.id = n.contact_id
LEFT JOIN alarm a ON a.id = n.alarm_id
WHERE n.state = 'dead' AND n.purpose <> 'test' AND (n.facility_id = ANY(%(facilities)s) OR n.person_id = %(person)s)
ORDER BY n.done_at DESC, n.id LIMIT %(limit)s
"""

# How many there are since a moment.
_COUNT: LiteralString = """
SELECT count(*) FROM notice n
WHERE n.state = 'dead' AND n.purpose <> 'test' AND n.done_at >= %(since)s
AND (n.facility_id = ANY(%(facilities)s) OR n.person_id = %(person)s)
"""

# A dead letter is queued once more, if that can help.
_AGAIN: LiteralString = """
UPDATE notice n SET state = 'queued', due_at = %(now)s, done_at = NULL,
    expires_at = greatest(n.expires_at, %(until)s)
FROM contact c, person p
WHERE n.id = %(id)s AND n.state = 'dead' AND n.purpose <> 'test'
AND (n.facility_id = ANY(%(facilities)s) OR n.person_id = %(person)s)
AND c.id = n.contact_id AND c.removed_at IS NULL AND p.id = n.person_id AND p.disabled_at IS NULL
AND (n.alarm_id IS NOT NULL OR NOT is_answered(n.key))
AND (n.alarm_id IS NULL OR EXISTS (SELECT FROM alarm a WHERE a.id = n.alarm_id
    AND a.state IN ('unacknowledged', 'returned-unacknowledged')))
"""

# Sent at commit.
_NOTIFY: LiteralString = "SELECT pg_notify(%s, '')"


@dataclass(frozen=True)
class Undelivered:
    """A dead letter; `detail` is what its last try led to, None where its time was over before any."""

    id: UUID
    facility_name: str
    zone: str
    alarm_id: UUID | None
    person: str | None
    way: str
    address: str
    title: str
    tries: int
    done_at: datetime
    detail: str | None
    may_again: bool


def undelivered(
    conn: Connection, facilities: Collection[UUID], person_id: UUID | None = None, limit: int = 100
) -> list[Undelivered]:
    """Dead letters of facilities, and those to a person, the newest first."""
    values = {"facilities": list(facilities), "person": person_id, "limit": limit}
    return [Undelivered(*row) for row in conn.execute(_UNDELIVERED, values)]


def count(conn: Connection, facilities: Collection[UUID], person_id: UUID | None, since: datetime) -> int:
    """How many of them since a moment."""
    row = conn.execute(_COUNT, {"facilities": list(facilities), "person": person_id, "since": since}).fetchone()
    assert row is not None
    found: int = row[0]
    return found


def again(
    conn: Connection, notice_id: UUID, facilities: Collection[UUID], person_id: UUID | None, now: datetime
) -> None:
    """Try a dead letter again, at once.

    Raises RefusedError where that can't help: its contact is no longer used, or its alarm no longer asks for anybody;
    and for one that is not there.
    """
    values = {
        "id": notice_id,
        "facilities": list(facilities),
        "person": person_id,
        "now": now,
        "until": now + AGAIN,
    }
    if conn.execute(_AGAIN, values).rowcount == 0:
        raise RefusedError(_("this message can't be tried again: nobody needs it any more, or it was sent meanwhile"))
    conn.execute(_NOTIFY, (QUEUED,))

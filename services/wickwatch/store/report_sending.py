"""Who is sent a facility's weekly reports, and the notices that bring one to them.

Not here: the reports (`store.reports`), nor how a notice leaves (`store.notices`).
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import LiteralString
from uuid import UUID

from psycopg.types.json import Jsonb

from wickwatch.store.connect import Connection
from wickwatch.store.notices import QUEUED

_SUBSCRIBE: LiteralString = """
INSERT INTO report_subscription (facility_id, person_id, since) VALUES (%s, %s, %s) ON CONFLICT DO NOTHING
"""
_UNSUBSCRIBE: LiteralString = "DELETE FROM report_subscription WHERE facility_id = %s AND person_id = %s"
_SUBSCRIBED: LiteralString = "SELECT facility_id FROM report_subscription WHERE person_id = %s"

# One notice to the first contact of everybody who wants the facility's reports and may still see it; the next contact
# is used as for a call.
_QUEUE: LiteralString = """
INSERT INTO notice (key, facility_id, person_id, contact_id, way, address, title, body, plain_title, plain_body,
    payload, created_at, due_at, expires_at, purpose)
SELECT 'report:' || %(report)s || ':' || c.id, s.facility_id, s.person_id, c.id, c.way, c.address, %(title)s, %(body)s,
    %(plain_title)s, %(plain_body)s, %(payload)s, %(now)s, %(now)s, %(until)s, 'report'
FROM report_subscription s JOIN person p ON p.id = s.person_id AND p.disabled_at IS NULL
CROSS JOIN LATERAL (
    SELECT id, way, address FROM contact WHERE person_id = s.person_id AND removed_at IS NULL ORDER BY position LIMIT 1
) c
WHERE s.facility_id = %(facility)s AND EXISTS (
    SELECT FROM membership m
    WHERE m.person_id = s.person_id AND (m.facility_id IS NULL OR m.facility_id = s.facility_id))
ON CONFLICT (key) DO NOTHING
"""

# Sent at commit.
_NOTIFY: LiteralString = "SELECT pg_notify(%s, '')"


def subscribe(conn: Connection, facility_id: UUID, person_id: UUID, at: datetime) -> None:
    """Send a person each Monday's report."""
    conn.execute(_SUBSCRIBE, (facility_id, person_id, at))


def unsubscribe(conn: Connection, facility_id: UUID, person_id: UUID) -> None:
    """No longer send it."""
    conn.execute(_UNSUBSCRIBE, (facility_id, person_id))


def subscribed(conn: Connection, person_id: UUID) -> set[UUID]:
    """Facilities whose reports a person is sent."""
    return {row[0] for row in conn.execute(_SUBSCRIBED, (person_id,))}


def queue(
    conn: Connection,
    facility_id: UUID,
    report_id: UUID,
    title: str,
    body: str,
    payload: Mapping[str, object],
    now: datetime,
    until: datetime,
    plain: tuple[str, str] | None = None,
) -> int:
    """Queue a report's notices, worth sending until a time; returns how many people can be reached.

    `plain` are title and body for a program where they are not in English.
    """
    values = {"facility": facility_id, "report": str(report_id), "title": title, "body": body, "now": now}
    values |= dict(zip(("plain_title", "plain_body"), plain or (None, None), strict=True))
    count = conn.execute(_QUEUE, values | {"payload": Jsonb(dict(payload)), "until": until}).rowcount
    conn.execute(_NOTIFY, (QUEUED,))
    return count

"""The outbox: notices queued in the transaction that raised their alarm, claimed, sent, and recorded.

A claim moves `due_at` past the time sending may take, and commits, before anything is sent. So a crash between claim
and record leaves the notice queued: it is sent again when the claim runs out, at most once more for each crash, with
the same key. Not here: how anything is sent, or how long to wait between tries
(`notify`); what never arrived (`store.dead_letters`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, LiteralString
from uuid import UUID

from psycopg.types.json import Jsonb

from wickwatch import log
from wickwatch.alarms import NoticeDraft
from wickwatch.store.connect import Connection

#: A transaction that queued notices notifies here when it commits.
QUEUED = "wickwatch_notices"

# One more notice; the same key twice is the same notice.
_QUEUE: LiteralString = """
INSERT INTO notice (key, facility_id, alarm_id, person_id, contact_id, way, address, title, body, plain_title,
    plain_body, payload, created_at, due_at, expires_at)
VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s)
ON CONFLICT (key) DO NOTHING
"""

# Sent at commit, once for however many notices.
_NOTIFY: LiteralString = "SELECT pg_notify(%s, '')"

# A due notice of an alarm that still wants an answer, or a summary of which one does, taken by one copy: until the
# claim runs out it is not due. A program is told in plain English.
_CLAIM: LiteralString = """
UPDATE notice n SET due_at = %(until)s, tries = n.tries + 1
FROM (
    SELECT d.id, c.secret, c.removed_at IS NOT NULL AS removed FROM notice d
    LEFT JOIN alarm a ON a.id = d.alarm_id
    LEFT JOIN contact c ON c.id = d.contact_id
    LEFT JOIN person p ON p.id = d.person_id
    WHERE d.state = 'queued' AND d.way = %(way)s AND d.due_at <= %(now)s AND d.expires_at > %(now)s
    AND (a.id IS NULL OR a.state IN ('unacknowledged', 'returned-unacknowledged'))
    AND (a.id IS NOT NULL OR NOT is_answered(d.key)) AND p.disabled_at IS NULL
    ORDER BY d.due_at, d.id LIMIT 1 FOR UPDATE OF d SKIP LOCKED
) due
WHERE n.id = due.id
RETURNING n.id, n.key, n.alarm_id, n.way, n.address, due.secret,
    CASE n.way WHEN 'webhook' THEN coalesce(n.plain_title, n.title) ELSE n.title END,
    CASE n.way WHEN 'webhook' THEN coalesce(n.plain_body, n.body) ELSE n.body END, n.payload, n.created_at,
    n.expires_at, n.tries, n.facility_id, n.person_id, n.contact_id, n.purpose, coalesce(due.removed, false)
"""

# Notices not under way whose alarm was answered, explained or closed before they left.
_WITHDRAW: LiteralString = """
UPDATE notice n SET state = 'withdrawn', done_at = %(now)s FROM alarm a
WHERE n.state = 'queued' AND n.due_at <= %(now)s AND a.id = n.alarm_id
AND a.state NOT IN ('unacknowledged', 'returned-unacknowledged')
"""

# Summaries not under way of which every alarm was answered, explained or closed before they left.
_WITHDRAW_SUMMARY: LiteralString = """
UPDATE notice SET state = 'withdrawn', done_at = %(now)s
WHERE state = 'queued' AND due_at <= %(now)s AND alarm_id IS NULL AND is_answered(key)
"""

# Notices not under way to people who may no longer be told anything.
_WITHDRAW_DISABLED: LiteralString = """
UPDATE notice n SET state = 'withdrawn', done_at = %(now)s FROM person p
WHERE n.state = 'queued' AND n.due_at <= %(now)s AND p.id = n.person_id AND p.disabled_at IS NOT NULL
"""

# Notices not under way that came to the end of their time.
_EXPIRE: LiteralString = """
UPDATE notice SET state = 'dead', done_at = %(now)s
WHERE state = 'queued' AND due_at <= %(now)s AND expires_at <= %(now)s
RETURNING id, way, alarm_id, tries
"""

# What one try led to.
_ATTEMPT: LiteralString = """
INSERT INTO notice_attempt (notice_id, try, at, ok, detail) VALUES (%s, %s, %s, %s, %s)
ON CONFLICT (notice_id, try) DO NOTHING
"""

# It was taken: done, also where the claim had run out meanwhile.
_SENT: LiteralString = "UPDATE notice SET state = 'sent', done_at = %s WHERE id = %s AND state = 'queued'"

# It was not taken: due again, unless somebody else has claimed it meanwhile.
_AGAIN: LiteralString = "UPDATE notice SET due_at = %s WHERE id = %s AND tries = %s AND state = 'queued'"

# It will not be tried again.
_DEAD: LiteralString = (
    "UPDATE notice SET state = 'dead', done_at = %s WHERE id = %s AND tries = %s AND state = 'queued'"
)

# The same call or report over the person's next contact, which may stand in the place of a removed one; its key differs
# in the contact only. A test tries one way and no other.
_NEXT_CONTACT: LiteralString = """
INSERT INTO notice (key, facility_id, alarm_id, person_id, contact_id, way, address, title, body, plain_title,
    plain_body, payload, created_at, due_at, expires_at, purpose)
SELECT left(n.key, -36) || c.id, n.facility_id, n.alarm_id, n.person_id, c.id, c.way, c.address, n.title, n.body,
    n.plain_title, n.plain_body, n.payload, %(now)s, %(now)s, n.expires_at, n.purpose
FROM notice n JOIN contact used ON used.id = n.contact_id
JOIN contact c ON c.person_id = n.person_id AND c.removed_at IS NULL
    AND c.id <> used.id AND c.position >= used.position
WHERE n.id = %(id)s AND n.purpose <> 'test' ORDER BY c.position LIMIT 1
ON CONFLICT (key) DO NOTHING
"""

# How the outbox stands: queued, failing (tried and still queued) and since when, dead since a moment.
_STANDING: LiteralString = """
SELECT count(*) FILTER (WHERE state = 'queued'), count(*) FILTER (WHERE state = 'queued' AND tries > 0),
    min(created_at) FILTER (WHERE state = 'queued' AND tries > 0), count(*) FILTER (WHERE state = 'dead')
FROM notice WHERE state = 'queued' OR (state = 'dead' AND done_at >= %s)
"""


@dataclass(frozen=True)
class Claimed:
    """A notice taken for sending; `tries` counts this try too, `key` is what a receiver can tell duplicates by.

    `removed` says that its contact is no longer used.
    """

    id: UUID
    key: str
    alarm_id: UUID | None
    way: str
    address: str
    secret: str | None
    title: str
    body: str
    payload: Mapping[str, object]
    created_at: datetime
    expires_at: datetime
    tries: int
    facility_id: UUID | None = None
    person_id: UUID | None = None
    contact_id: UUID | None = None
    purpose: str = "call"
    removed: bool = False


@dataclass(frozen=True)
class Standing:
    """How the outbox stands; `dead` counts those since the moment asked for."""

    queued: int
    failing: int
    failing_since: datetime | None
    dead: int


def queue(conn: Connection, drafts: Sequence[NoticeDraft]) -> int:
    """Queue notices, due at once; returns how many were new. They leave when the caller's transaction commits."""
    if not drafts:
        return 0
    cursor = conn.cursor()
    cursor.executemany(_QUEUE, [_draft_row(draft) for draft in drafts])
    conn.execute(_NOTIFY, (QUEUED,))
    return cursor.rowcount


def claim(conn: Connection, now: datetime, way: str, lease: timedelta) -> Claimed | None:
    """Take the notice of one way that is due longest; the caller commits before it sends. None where nothing is due."""
    row = conn.execute(_CLAIM, {"now": now, "way": way, "until": now + lease}).fetchone()
    return Claimed(*row) if row else None


def tidy(conn: Connection, now: datetime) -> None:
    """Withdraw what nobody needs any more, and make dead letters of what is past its time."""
    conn.execute(_WITHDRAW, {"now": now})
    conn.execute(_WITHDRAW_SUMMARY, {"now": now})
    conn.execute(_WITHDRAW_DISABLED, {"now": now})
    for id, way, alarm_id, tries in conn.execute(_EXPIRE, {"now": now}).fetchall():
        log.warning("notice.dead", notice=id, way=way, alarm=alarm_id, tries=tries, why="expired")


def record_sent(conn: Connection, notice: Claimed, at: datetime, detail: str) -> None:
    """Record that a try succeeded."""
    conn.execute(_ATTEMPT, (notice.id, notice.tries, at, True, detail))
    conn.execute(_SENT, (at, notice.id))


def record_failed(
    conn: Connection, notice: Claimed, at: datetime, detail: str, again_at: datetime | None, *, next_contact: bool
) -> None:
    """Record that a try failed; without `again_at` the notice is dead.

    `next_contact` queues it over the person's next way, where there is one.
    """
    conn.execute(_ATTEMPT, (notice.id, notice.tries, at, False, detail))
    if again_at is None:
        conn.execute(_DEAD, (at, notice.id, notice.tries))
    else:
        conn.execute(_AGAIN, (again_at, notice.id, notice.tries))
    if next_contact:
        conn.execute(_NEXT_CONTACT, {"id": notice.id, "now": at})


def standing(conn: Connection, since: datetime) -> Standing:
    """How the outbox stands, with dead letters since a moment."""
    row = conn.execute(_STANDING, (since,)).fetchone()
    assert row is not None
    return Standing(*row)


def _draft_row(d: NoticeDraft) -> tuple[Any, ...]:
    to = (d.person_id, d.contact_id, d.way, d.address)
    return (
        d.key,
        d.facility_id,
        d.alarm_id,
        *to,
        d.title,
        d.body,
        *(d.plain or (None, None)),
        Jsonb(dict(d.payload)),
        d.created_at,
        d.created_at,
        d.expires_at,
    )

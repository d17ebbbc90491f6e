"""Alarms as pages and programs read them: lists, one alarm, its journal and the notices sent for it.

Not here: changing an alarm (`store.alarms`). Lists are newest first and continue after a (raised_at, id) pair, which
stays right while alarms are added.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, LiteralString
from uuid import UUID

from wickwatch.store.connect import Connection

_COLUMNS: LiteralString = """
SELECT a.id, a.facility_id, f.slug, f.name, f.zone, a.room_id, r.slug, r.name, a.kind, a.subject_type, a.subject_id,
       a.subject_name, a.priority, a.state, a.condition_present, a.acknowledged_at, p.name, a.cause_id,
       a.shelved_until, a.out_of_service_until,
       a.raised_at, a.cleared_at, a.closed_at, a.outcome, a.message, a.evidence, a.made_of,
       f.advice ->> a.kind
FROM alarm a
JOIN facility f ON f.id = a.facility_id
LEFT JOIN room r ON r.id = a.room_id
LEFT JOIN person p ON p.id = a.acknowledged_by
"""

# Alarms of facilities, newest first; each null parameter filters nothing.
_LIST: LiteralString = (
    _COLUMNS
    + """
WHERE a.facility_id = ANY (%(facilities)s)
  AND (%(active)s::boolean IS NULL OR (a.closed_at IS NULL) = %(active)s)
  AND (%(since)s::timestamptz IS NULL OR a.raised_at >= %(since)s)
  AND (%(room)s::uuid IS NULL OR a.room_id = %(room)s)
  AND (%(kind)s::text IS NULL OR a.kind = %(kind)s)
  AND (%(states)s::text[] IS NULL OR a.state = ANY (%(states)s))
  AND (%(priority)s::text IS NULL OR a.priority = %(priority)s)
  AND (%(text)s::text IS NULL OR strpos(lower(concat_ws(' ', a.message, a.subject_name, r.name)), %(text)s) > 0)
  AND (%(ids)s::uuid[] IS NULL OR a.id = ANY (%(ids)s))
  AND (%(cause)s::uuid IS NULL OR a.cause_id = %(cause)s)
  AND (%(until)s::timestamptz IS NULL OR a.cleared_at IS NULL OR a.cleared_at >= %(until)s)
  AND (%(at)s::timestamptz IS NULL OR (a.raised_at, a.id) < (%(at)s, %(id)s))
ORDER BY a.raised_at DESC, a.id DESC LIMIT %(limit)s
"""
)

# One alarm, if it is in one of the facilities.
_ONE: LiteralString = _COLUMNS + "WHERE a.id = %s AND a.facility_id = ANY (%s)"

# How many open alarms are in each state.
_STATES: LiteralString = """
SELECT state, count(*) FROM alarm WHERE facility_id = ANY (%s) AND closed_at IS NULL GROUP BY state
"""

# What happened to an alarm, oldest first.
_JOURNAL: LiteralString = """
SELECT j.version, j.at, j.event, j.state, p.name, j.detail FROM alarm_journal j LEFT JOIN person p ON p.id = j.person_id
WHERE j.alarm_id = %s ORDER BY j.version
"""

# Who was called for an alarm, oldest first.
_NOTICES: LiteralString = """
SELECT n.created_at, n.way, p.name, n.state, n.done_at, n.tries FROM notice n LEFT JOIN person p ON p.id = n.person_id
WHERE n.alarm_id = %s ORDER BY n.created_at, n.id
"""


@dataclass(frozen=True)
class Cursor:
    """Where a list of alarms continues: after this one."""

    raised_at: datetime
    id: UUID


@dataclass(frozen=True)
class AlarmRow:
    """One alarm with the names around it, and its facility's own text for its kind.

    Its message and outcome are English; `alarms.said` and `alarms.outcome` say them to a reader.
    """

    id: UUID
    facility_id: UUID
    facility_slug: str
    facility_name: str
    zone: str
    room_id: UUID | None
    room_slug: str | None
    room_name: str | None
    kind: str
    subject_type: str
    subject_id: UUID
    subject_name: str
    priority: str
    state: str
    condition_present: bool
    acknowledged_at: datetime | None
    acknowledged_by: str | None
    cause_id: UUID | None
    shelved_until: datetime | None
    out_of_service_until: datetime | None
    raised_at: datetime
    cleared_at: datetime | None
    closed_at: datetime | None
    outcome: str | None
    message: str
    evidence: Mapping[str, object]
    made_of: Mapping[str, object]
    own_advice: str | None = None


@dataclass(frozen=True)
class JournalRow:
    """One thing that happened to an alarm."""

    version: int
    at: datetime
    event: str
    state: str
    person: str | None
    detail: Mapping[str, Any]


@dataclass(frozen=True)
class NoticeRow:
    """One call for an alarm, and what became of it."""

    created_at: datetime
    way: str
    person: str | None
    state: str
    done_at: datetime | None
    tries: int


def alarms(
    conn: Connection,
    facility_ids: Sequence[UUID],
    limit: int,
    *,
    active: bool | None = None,
    since: datetime | None = None,
    room_id: UUID | None = None,
    kind: str | None = None,
    cause_id: UUID | None = None,
    ids: Sequence[UUID] | None = None,
    not_cleared_before: datetime | None = None,
    states: Sequence[str] | None = None,
    priority: str | None = None,
    text: str | None = None,
    after: Cursor | None = None,
) -> list[AlarmRow]:
    """Alarms of facilities, newest first; `active` true are those whose life is not over.

    `text` is looked for in the message and in the names of what it is about and of its room, whatever the case.
    """
    values = {
        "facilities": list(facility_ids),
        "limit": limit,
        "active": active,
        "since": since,
        "room": room_id,
        "kind": kind,
        "cause": cause_id,
        "ids": None if ids is None else list(ids),
        "until": not_cleared_before,
        "states": None if states is None else list(states),
        "priority": priority,
        "text": text.lower() if text else None,
        "at": after.raised_at if after else None,
        "id": after.id if after else None,
    }
    return [AlarmRow(*row) for row in conn.execute(_LIST, values, binary=True)]


def open_by_state(conn: Connection, facility_ids: Sequence[UUID]) -> dict[str, int]:
    """How many open alarms of facilities are in each state; states of none are left out."""
    return dict(conn.execute(_STATES, (list(facility_ids),)).fetchall())


def alarm(conn: Connection, alarm_id: UUID, facility_ids: Sequence[UUID]) -> AlarmRow | None:
    """One alarm, or None where it is not in these facilities."""
    row = conn.execute(_ONE, (alarm_id, list(facility_ids)), binary=True).fetchone()
    return None if row is None else AlarmRow(*row)


def journal(conn: Connection, alarm_id: UUID) -> list[JournalRow]:
    """What happened to an alarm, oldest first."""
    return [JournalRow(*row) for row in conn.execute(_JOURNAL, (alarm_id,))]


def notices(conn: Connection, alarm_id: UUID) -> list[NoticeRow]:
    """Who was called for an alarm, oldest first."""
    return [NoticeRow(*row) for row in conn.execute(_NOTICES, (alarm_id,))]

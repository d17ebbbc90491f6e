"""Calls as they were decided, and those that wait to be told in a summary.

Written in the transaction that queues their notices, so that a call is either told, or waits, or was answered before
it was told. Not here: whom an alarm calls and what is gathered (`alarms`), or the notices themselves (`store.notices`).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import LiteralString, cast
from uuid import UUID

from wickwatch.alarms import PRIORITIES, Alarm, Call, Contact, Event, Load, OnDuty, Priority, Told
from wickwatch.alarms.flood import WINDOW
from wickwatch.store import contacts
from wickwatch.store.connect import Connection

# Calls of a facility that wait, oldest first.
_WAITING: LiteralString = """
SELECT c.alarm_id, c.version, j.event, c.rung, c.person_id, p.name, c.at
FROM alarm_call c JOIN alarm_journal j USING (alarm_id, version) JOIN person p ON p.id = c.person_id
WHERE c.facility_id = %s AND c.state = 'waiting' ORDER BY c.at, c.alarm_id, c.version
"""

# Waiting calls that nobody needs to be told any more: the alarm was answered, explained, put aside, or is over.
_DROP: LiteralString = """
UPDATE alarm_call c SET state = 'dropped' FROM alarm a
WHERE c.facility_id = %s AND c.state = 'waiting' AND a.id = c.alarm_id AND a.state <> 'unacknowledged'
"""

# What people were called for since a moment, in whichever facility.
_LATELY: LiteralString = """
SELECT person_id, array_agg(DISTINCT alarm_id) FILTER (WHERE at > %(since)s),
    max(left_at) FILTER (WHERE state = 'summary' AND left_at > %(since)s),
    array_agg(DISTINCT priority) FILTER (WHERE left_at > %(since)s)
FROM alarm_call WHERE person_id = ANY(%(people)s) AND at > %(since)s::timestamptz - interval '1 day' GROUP BY person_id
"""

# Who was called for alarms since they last asked: neither the next rung nor a change of hands is asking anew.
_CALLED: LiteralString = """
SELECT c.alarm_id, array_agg(DISTINCT c.person_id) FROM alarm_call c
WHERE c.alarm_id = ANY(%s) AND c.version >= (
    SELECT max(j.version) FROM alarm_journal j WHERE j.alarm_id = c.alarm_id AND j.detail ? 'call'
    AND j.event NOT IN ('escalated', 'handed-over'))
GROUP BY c.alarm_id
"""

# One more call, or one that waited.
_SAVE: LiteralString = """
INSERT INTO alarm_call (alarm_id, version, person_id, facility_id, rung, priority, at, state, left_at, notice)
VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s)
ON CONFLICT (alarm_id, version, person_id)
DO UPDATE SET priority = excluded.priority, state = excluded.state, left_at = excluded.left_at, notice = excluded.notice
"""


def loads(
    conn: Connection, facility_id: UUID, alarms: Mapping[UUID, Alarm], called: Collection[UUID], at: datetime
) -> dict[UUID, Load]:
    """What everybody in `called`, and everybody with a call that waits in a facility, was called for before `at`.

    `alarms` are the facility's open alarms as they are now. A call that waited for a person who can't be reached any
    more is left waiting: nobody answers, so the next rung is called.
    """
    waiting: dict[UUID, list[Call]] = {}
    reached: dict[UUID, tuple[Contact, ...]] = {}
    conn.execute(_DROP, (facility_id,))
    for alarm_id, version, event, rung, person_id, name, since in conn.execute(_WAITING, (facility_id,)).fetchall():
        if person_id not in reached:
            reached[person_id] = tuple(contacts.of_person(conn, person_id))
        person = OnDuty(rung, person_id, name, reached[person_id])
        if person.contacts and alarm_id in alarms:
            call = Call(alarms[alarm_id], version, cast(Event, event), rung, person, since)
            waiting.setdefault(person_id, []).append(call)
    people = [*{*called, *waiting}]
    if not people:
        return {}
    found = {person: Load(waiting=tuple(waiting.get(person, ()))) for person in people}
    for person, ids, gathered_at, priorities in conn.execute(_LATELY, {"people": people, "since": at - WINDOW}):
        told = min(priorities or (), key=_rank, default=None)
        found[person] = Load(frozenset(ids or ()), found[person].waiting, gathered_at, told)
    return found


def called(conn: Connection, alarms: Sequence[UUID]) -> dict[UUID, list[UUID]]:
    """People who were called for each of some alarms since it last asked."""
    return dict(conn.execute(_CALLED, (alarms,)).fetchall())


def save(conn: Connection, facility_id: UUID, told: Sequence[Told], at: datetime) -> None:
    """Record calls and how they left, or that they wait."""
    rows = [
        (
            *(each.call.alarm.id, each.call.version, each.call.person.person_id, facility_id, each.call.rung),
            *(each.call.alarm.priority, each.call.at, each.how),
            *(None if each.notice is None else at, each.notice),
        )
        for each in told
    ]
    if rows:
        conn.cursor().executemany(_SAVE, rows)


def _rank(priority: str) -> int:
    return PRIORITIES.index(cast(Priority, priority))

"""Conditions, alarms and their journal: loaded for a step, saved from it, changed by a person.

A step's writing and a person's act meet at the alarm's row: whoever locks it first goes first, and the other sees
what became of it. Who steps a facility must be alone with it (the watch holds a lock for that). Not here: what follows
from a finding or an act (`alarms`), lists for pages and programs (`store.pages`).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any, LiteralString, cast
from uuid import UUID

from psycopg.rows import dict_row
from psycopg.types.json import Jsonb

from wickwatch.alarms import Act, Alarm, Book, Changes, Condition, Event, JournalEntry, State, apply, policy
from wickwatch.errors import InputError, RefusedError
from wickwatch.fleet import Subject
from wickwatch.store.connect import Connection
from wickwatch.texts import _

#: A transaction that changed alarms notifies here, with the facility's id, when it commits.
CHANGED = "wickwatch_alarms"

# Open alarms of a facility. The lock keeps people's acts out until the step is committed, but lets foreign keys in.
_OPEN_FOR_STEP: LiteralString = """
SELECT * FROM alarm WHERE facility_id = %s AND closed_at IS NULL ORDER BY id FOR NO KEY UPDATE
"""

# Closed alarms that open ones still name as their cause, and those that ended so lately that they may yet explain what
# is found now.
_ENDED_CAUSES: LiteralString = """
SELECT * FROM alarm WHERE closed_at IS NOT NULL
AND id IN (SELECT cause_id FROM alarm WHERE facility_id = %(facility)s AND closed_at IS NULL)
UNION
SELECT * FROM alarm WHERE facility_id = %(facility)s AND raised_at >= %(raised)s AND cleared_at >= %(cleared)s
AND closed_at IS NOT NULL AND kind = ANY(%(kinds)s)
"""

# Open conditions of a facility.
_OPEN_CONDITIONS: LiteralString = "SELECT * FROM finding WHERE facility_id = %s AND ended_at IS NULL"

# A condition as it is now.
_SAVE_CONDITION: LiteralString = """
INSERT INTO finding (id, facility_id, room_id, kind, subject_type, subject_id, subject_name, since, seen_at,
    last_seen_at, gone_at, ended_at, harm_at, evidence, explained_by)
VALUES (%(id)s, %(facility_id)s, %(room_id)s, %(kind)s, %(subject_type)s, %(subject_id)s, %(subject_name)s, %(since)s,
    %(seen_at)s, %(last_seen_at)s, %(gone_at)s, %(ended_at)s, %(harm_at)s, %(evidence)s, %(explained_by)s)
ON CONFLICT (id) DO UPDATE SET last_seen_at = excluded.last_seen_at, gone_at = excluded.gone_at,
    ended_at = excluded.ended_at, harm_at = excluded.harm_at, evidence = excluded.evidence,
    explained_by = excluded.explained_by
"""

# An alarm as it is now.
_SAVE_ALARM: LiteralString = """
INSERT INTO alarm (id, facility_id, room_id, kind, subject_type, subject_id, subject_name, priority, state,
    condition_present, acknowledged_at, acknowledged_by, cause_id, shelved_until, out_of_service_until, service_id,
    raised_at, harm_at, called_at, rung, cleared_at, closed_at, outcome, message, evidence,
    made_of, version)
VALUES (%(id)s, %(facility_id)s, %(room_id)s, %(kind)s, %(subject_type)s, %(subject_id)s, %(subject_name)s,
    %(priority)s, %(state)s, %(condition_present)s, %(acknowledged_at)s, %(acknowledged_by)s, %(cause_id)s,
    %(shelved_until)s, %(out_of_service_until)s, %(service_id)s, %(raised_at)s, %(harm_at)s, %(called_at)s,
    %(rung)s, %(cleared_at)s, %(closed_at)s, %(outcome)s, %(message)s, %(evidence)s, %(made_of)s,
    %(version)s)
ON CONFLICT (id) DO UPDATE SET priority = excluded.priority, state = excluded.state,
    condition_present = excluded.condition_present, acknowledged_at = excluded.acknowledged_at,
    acknowledged_by = excluded.acknowledged_by, cause_id = excluded.cause_id, shelved_until = excluded.shelved_until,
    out_of_service_until = excluded.out_of_service_until, service_id = excluded.service_id,
    harm_at = excluded.harm_at, called_at = excluded.called_at, rung = excluded.rung,
    cleared_at = excluded.cleared_at, closed_at = excluded.closed_at, outcome = excluded.outcome,
    message = excluded.message, evidence = excluded.evidence, made_of = excluded.made_of, version = excluded.version
"""

# One more entry; its number is taken, and the statement fails, where somebody else wrote the same step.
_JOURNAL: LiteralString = """
INSERT INTO alarm_journal (alarm_id, version, at, event, state, person_id, detail) VALUES (%s, %s, %s, %s, %s, %s, %s)
"""

# Sent at commit, once for however many changes.
_NOTIFY: LiteralString = "SELECT pg_notify(%s, %s)"

# One alarm, kept from anybody else's change until the transaction ends.
_ONE_FOR_ACT: LiteralString = "SELECT * FROM alarm WHERE id = %s FOR NO KEY UPDATE"

# One alarm.
_ONE: LiteralString = "SELECT * FROM alarm WHERE id = %s"

# A person's name.
_NAME: LiteralString = "SELECT name FROM person WHERE id = %s"

# Everything that happened to an alarm, in order.
_ENTRIES: LiteralString = """
SELECT alarm_id, version, at, event, state, person_id, detail FROM alarm_journal WHERE alarm_id = %s ORDER BY version
"""

# Every open alarm of a facility, the newest first.
_STANDING: LiteralString = """
SELECT * FROM alarm WHERE facility_id = %s AND closed_at IS NULL ORDER BY raised_at DESC, id DESC
"""

# Slugs of a facility and of its rooms, and whether each room is in use; those in use come last.
_ROOMS: LiteralString = """
SELECT f.slug, r.id, r.slug, f.retired_at IS NULL AND r.retired_at IS NULL AS in_use
FROM facility f JOIN room r ON r.facility_id = f.id WHERE f.id = %s ORDER BY in_use, r.slug
"""

# Facilities in use, and those that were and whose slug nobody else has now.
_FACILITIES: LiteralString = """
SELECT id FROM facility f WHERE retired_at IS NULL
OR NOT EXISTS (SELECT FROM facility n WHERE n.slug = f.slug AND n.retired_at IS NULL)
"""


def load_book(conn: Connection, facility_id: UUID, at: datetime) -> Book:
    """What is open in a facility, for a step as of `at`.

    Its alarms stay locked until the caller's transaction ends, so load it late.
    """
    alarms = _alarms(conn, _OPEN_FOR_STEP, (facility_id,))
    causes = _alarms(
        conn,
        _ENDED_CAUSES,
        {
            "facility": facility_id,
            "raised": at - policy.CAUSE_RAISED_MOST,
            "cleared": at - policy.RELEASE_MOST,
            "kinds": sorted(policy.EXPLAIN_AFTER),
        },
    )
    conditions = _conditions(conn, facility_id)
    return Book(
        facility_id=facility_id,
        conditions={condition.key: condition for condition in conditions},
        alarms={alarm.key: alarm for alarm in alarms},
        ended_causes={alarm.id: alarm for alarm in causes},
    )


def save(conn: Connection, facility_id: UUID, changes: Changes) -> None:
    """Write what a step changed; nothing is sent to the database where nothing did."""
    if changes.conditions:
        conn.cursor().executemany(_SAVE_CONDITION, [_condition_row(facility_id, each) for each in changes.conditions])
    if changes.alarms:
        _write(conn, facility_id, changes.alarms, changes.journal)


def apply_event(
    conn: Connection, alarm_id: UUID, act: Act, person_id: UUID | None, at: datetime, facilities: Collection[UUID]
) -> Alarm:
    """Do what a person decided about an alarm of one of `facilities`; returns the alarm as it is then.

    Of two people at once, one does it and the other gets a RefusedError that says what became of the alarm. Raises
    InputError where there is no such alarm in those facilities, or the act's end or note can't be taken.
    """
    before = _visible(conn, _ONE_FOR_ACT, alarm_id, facilities)
    if act.name == "acknowledge" and before.state == "acknowledged" and before.acknowledged_by != person_id:
        name = conn.execute(_NAME, (before.acknowledged_by,)).fetchone()
        raise RefusedError(
            _(
                "%(name)s: %(person)s has already acknowledged this alarm",
                name=before.subject.name,
                person=name[0] if name else _("somebody"),
            )
        )
    alarm, entry = apply(before, act, person_id, at)
    if entry is not None:
        _write(conn, alarm.facility_id, [alarm], [entry])
    return alarm


def one(conn: Connection, alarm_id: UUID, facilities: Collection[UUID]) -> tuple[Alarm, list[JournalEntry]]:
    """An alarm of one of `facilities` with its journal, the oldest entry first. Raises InputError."""
    return _visible(conn, _ONE, alarm_id, facilities), journal(conn, alarm_id)


def journal(conn: Connection, alarm_id: UUID) -> list[JournalEntry]:
    """Everything that happened to an alarm, the oldest first."""
    return [
        JournalEntry(id, version, at, cast(Event, event), cast(State, state), person, detail)
        for id, version, at, event, state, person, detail in conn.execute(_ENTRIES, (alarm_id,))
    ]


def standing(conn: Connection, facility_id: UUID) -> list[Alarm]:
    """Every open alarm of a facility, the newest first."""
    return _alarms(conn, _STANDING, (facility_id,))


def by_room(conn: Connection, facility_id: UUID) -> dict[tuple[str, str], list[Alarm] | None]:
    """By slugs of facility and room the open alarms of each room, the newest first; None where it is retired."""
    found: dict[tuple[str, str], list[Alarm] | None] = {}
    alarms = standing(conn, facility_id)
    for facility, id, room, in_use in conn.execute(_ROOMS, (facility_id,)):
        found[facility, room] = [alarm for alarm in alarms if alarm.room_id == id] if in_use else None
    return found


def tell(conn: Connection, facility_id: UUID) -> None:
    """Let those who listen know, at commit, that what is shown of a facility's alarms has changed."""
    conn.execute(_NOTIFY, (CHANGED, str(facility_id)))


def facilities(conn: Connection) -> list[UUID]:
    """Ids of the facilities whose rooms' topics are theirs, those retired too."""
    return [id for (id,) in conn.execute(_FACILITIES)]


def _visible(conn: Connection, statement: LiteralString, alarm_id: UUID, facilities: Collection[UUID]) -> Alarm:
    for alarm in _alarms(conn, statement, (alarm_id,)):
        if alarm.facility_id in facilities:
            return alarm
    raise InputError(_("alarm"), str(alarm_id), _("the id of an alarm of a facility you may see"))


def _write(conn: Connection, facility_id: UUID, alarms: Sequence[Alarm], entries: Sequence[JournalEntry]) -> None:
    cursor = conn.cursor()
    cursor.executemany(_SAVE_ALARM, [_row(alarm) | {"made_of": Jsonb(dict(alarm.made_of))} for alarm in alarms])
    cursor.executemany(_JOURNAL, [_entry_row(entry) for entry in entries])
    tell(conn, facility_id)


def _alarms(conn: Connection, statement: LiteralString, values: Any) -> list[Alarm]:
    """Alarms a statement selects; a row's columns are an alarm's fields, with its subject spread over three."""
    rows = conn.cursor(row_factory=dict_row).execute(statement, values)
    return [Alarm(subject=_subject(row), **row) for row in rows]


def _conditions(conn: Connection, facility_id: UUID) -> list[Condition]:
    found = []
    for row in conn.cursor(row_factory=dict_row).execute(_OPEN_CONDITIONS, (facility_id,)):
        del row["facility_id"]
        explained_by = tuple((kind, UUID(id)) for kind, id in row.pop("explained_by"))
        found.append(Condition(subject=_subject(row), explained_by=explained_by, **row))
    return found


def _subject(row: dict[str, Any]) -> Subject:
    """Take the subject's columns out of a row."""
    return Subject(row.pop("subject_type"), row.pop("subject_id"), row.pop("subject_name"))


def _row(each: Alarm | Condition) -> dict[str, object]:
    subject = {"subject_type": each.subject.type, "subject_id": each.subject.id, "subject_name": each.subject.name}
    return vars(each) | subject | {"evidence": Jsonb(dict(each.evidence))}


def _condition_row(facility_id: UUID, condition: Condition) -> dict[str, object]:
    explained_by = Jsonb([[kind, str(id)] for kind, id in condition.explained_by])
    return _row(condition) | {"facility_id": facility_id, "explained_by": explained_by}


def _entry_row(e: JournalEntry) -> tuple[object, ...]:
    return e.alarm_id, e.version, e.at, e.event, e.state, e.person_id, Jsonb(dict(e.detail))

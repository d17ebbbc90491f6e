"""Who is on duty when: the turns of the rota.

Not here: who is called for which alarm (`alarms.calls`), how people are reached (`store.contacts`), their names and
roles (`store.people`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, LiteralString
from uuid import UUID

import psycopg

from wickwatch.alarms import Contact, Duty, OnDuty
from wickwatch.errors import InputError
from wickwatch.store.connect import Connection

# Everybody whose turn it is, with their contacts in order; a person without one has a row without one.
_TURNS_NOW: LiteralString = """
SELECT t.step, p.id, p.name, c.id, c.way, c.address
FROM rota_turn t JOIN person p ON p.id = t.person_id AND p.disabled_at IS NULL
LEFT JOIN contact c ON c.person_id = p.id AND c.removed_at IS NULL
WHERE t.facility_id = %s AND t.during @> %s::timestamptz
ORDER BY t.step, p.id, c.position
"""

# Managers and administrators of a facility who can be reached, all at the first step.
_MANAGERS: LiteralString = """
SELECT DISTINCT 1, p.id, p.name, c.id, c.way, c.address, c.position
FROM membership m JOIN person p ON p.id = m.person_id AND p.disabled_at IS NULL
JOIN contact c ON c.person_id = p.id AND c.removed_at IS NULL
WHERE (m.facility_id = %s OR m.facility_id IS NULL) AND m.role IN ('manager', 'administrator')
ORDER BY p.id, c.position
"""

# Facilities whose rota names nobody who can be reached at a moment, and whether a manager stands in.
_UNCOVERED: LiteralString = """
SELECT f.slug, EXISTS (
    SELECT FROM membership m JOIN person p ON p.id = m.person_id AND p.disabled_at IS NULL
    JOIN contact c ON c.person_id = p.id AND c.removed_at IS NULL
    WHERE (m.facility_id = f.id OR m.facility_id IS NULL) AND m.role IN ('manager', 'administrator'))
FROM facility f
WHERE f.retired_at IS NULL AND NOT EXISTS (
    SELECT FROM rota_turn t JOIN person p ON p.id = t.person_id AND p.disabled_at IS NULL
    JOIN contact c ON c.person_id = p.id AND c.removed_at IS NULL
    WHERE t.facility_id = f.id AND t.during @> %s::timestamptz)
ORDER BY f.slug
"""

# Turns of a facility that overlap a span, in order.
_TURNS: LiteralString = """
SELECT t.id, t.step, t.person_id, p.name, lower(t.during), upper(t.during)
FROM rota_turn t JOIN person p ON p.id = t.person_id
WHERE t.facility_id = %s AND t.during && tstzrange(%s, %s) ORDER BY lower(t.during), t.step
"""

# One more turn; two at the same step can't overlap.
_ADD_TURN: LiteralString = """
INSERT INTO rota_turn (facility_id, step, person_id, during) VALUES (%s, %s, %s, tstzrange(%s, %s)) RETURNING id
"""

# A turn taken off the rota.
_REMOVE_TURN: LiteralString = "DELETE FROM rota_turn WHERE facility_id = %s AND id = %s"


@dataclass(frozen=True)
class Turn:
    """One person's turn at one step; `end` is `None` where it lasts until somebody ends it."""

    id: UUID
    step: int
    person_id: UUID
    name: str
    start: datetime
    end: datetime | None


def on_duty(conn: Connection, facility_id: UUID, at: datetime) -> Duty:
    """Everybody on duty at a moment, by step, and the managers who are called when nobody of them answers.

    Where none of them can be reached, the managers and administrators of the facility who can be are called instead,
    and `fallback` says so; nobody at all is left where there is no such contact either.
    """
    people = _people(conn.execute(_TURNS_NOW, (facility_id, at)))
    managers = _people(row[:6] for row in conn.execute(_MANAGERS, (facility_id,)))
    if any(person.contacts for person in people):
        return Duty(people, managers=managers)
    return Duty(managers, fallback=True)


def uncovered(conn: Connection, at: datetime) -> list[tuple[str, bool]]:
    """Slugs of facilities where the rota reaches nobody at a moment, and whether a manager is called instead."""
    return [(slug, managed) for slug, managed in conn.execute(_UNCOVERED, (at,))]


def turns(conn: Connection, facility_id: UUID, start: datetime, end: datetime) -> list[Turn]:
    """Turns that overlap a span, in order of time and step."""
    return [Turn(*row) for row in conn.execute(_TURNS, (facility_id, start, end))]


def add_turn(
    conn: Connection, facility_id: UUID, step: int, person_id: UUID, start: datetime, end: datetime | None
) -> UUID:
    """Put a person on the rota from `start` until `end` (not included). Raises InputError."""
    if step < 1:
        raise InputError("step", step, "1 for who is called first, 2 for who is called next, and so on")
    if end is not None and end <= start:
        raise InputError("end of the turn", end.isoformat(), "a time after its start")
    try:
        with conn.transaction():
            return _id(conn, _ADD_TURN, (facility_id, step, person_id, start, end))
    except psycopg.errors.ExclusionViolation:
        span = f"{start.isoformat()} to {end.isoformat() if end else 'open end'}"
        raise InputError("turn", span, f"a span in which nobody else is on duty at step {step}") from None


def remove_turn(conn: Connection, facility_id: UUID, turn_id: UUID) -> None:
    """Take a turn off the rota. Raises InputError where the facility has no such turn."""
    if conn.execute(_REMOVE_TURN, (facility_id, turn_id)).rowcount == 0:
        raise InputError("turn", str(turn_id), "the id of a turn of this facility")


def _people(rows: Iterable[tuple[Any, ...]]) -> tuple[OnDuty, ...]:
    """People from rows of step, person, name and contact, in the rows' order."""
    found: dict[tuple[int, UUID], OnDuty] = {}
    for step, person_id, name, contact_id, way, address in rows:
        known = found.get((step, person_id), OnDuty(step, person_id, name, ()))
        more = (Contact(contact_id, way, address),) if contact_id is not None else ()
        found[step, person_id] = OnDuty(step, person_id, name, known.contacts + more)
    return tuple(found.values())


def _id(conn: Connection, statement: LiteralString, values: Any) -> UUID:
    row = conn.execute(statement, values).fetchone()
    assert row is not None
    id: UUID = row[0]
    return id

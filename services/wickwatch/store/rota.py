"""Who is on duty at a moment, and turns by date, which stand before the weekly turns.

Not here: weekly turns, holidays and steps (`store.rota_plan`), who is called for which alarm (`alarms.calls`), how
people are reached (`store.contacts`), their names and roles (`store.people`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any, LiteralString
from uuid import UUID
from zoneinfo import ZoneInfo

import psycopg

from wickwatch.alarms import Contact, Duty, OnDuty
from wickwatch.alarms.rota import person_at, quiet_until
from wickwatch.errors import InputError
from wickwatch.store import rota_plan
from wickwatch.store.connect import Connection
from wickwatch.store.fleet import facilities
from wickwatch.texts import _

# Some people by id, and the managers and administrators of a facility, with quiet hours and contacts in order; a person
# without a contact has a row without one.
_PEOPLE: LiteralString = """
SELECT p.id, p.name, m.person_id IS NOT NULL, q.starts, q.ends, c.id, c.way, c.address
FROM person p
LEFT JOIN (
    SELECT DISTINCT person_id FROM membership
    WHERE (facility_id = %(facility)s OR facility_id IS NULL) AND role IN ('manager', 'administrator')
) m ON m.person_id = p.id
LEFT JOIN quiet_hours q ON q.person_id = p.id
LEFT JOIN contact c ON c.person_id = p.id AND c.removed_at IS NULL
WHERE p.disabled_at IS NULL AND (m.person_id IS NOT NULL OR p.id = ANY (%(named)s))
ORDER BY p.id, c.position
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
    plan = rota_plan.load(conn, facility_id, at, at + timedelta(microseconds=1))
    whose = {step: person_at(plan, step, at) for step in plan.steps}
    named = [person_id for person_id in whose.values() if person_id is not None]
    known, managing = _people(conn.execute(_PEOPLE, {"facility": facility_id, "named": named}), plan.zone, at)
    people = tuple(replace(known[id], step=step) for step, id in whose.items() if id is not None and id in known)
    managers = tuple(known[id] for id in managing if known[id].contacts)
    waits = rota_plan.answer_within(conn, facility_id)
    if any(person.contacts for person in people):
        return Duty(people, managers=managers, answer_within=waits)
    return Duty(managers, fallback=True, answer_within=waits)


def uncovered(conn: Connection, at: datetime) -> list[tuple[str, bool]]:
    """Slugs of facilities where the rota reaches nobody at a moment, and whether a manager is called instead."""
    duties = [(site.slug, on_duty(conn, site.id, at)) for site in facilities(conn)]
    return [(slug, bool(duty.people)) for slug, duty in duties if duty.fallback]


def turns(conn: Connection, facility_id: UUID, start: datetime, end: datetime) -> list[Turn]:
    """Turns that overlap a span, in order of time and step."""
    return [Turn(*row) for row in conn.execute(_TURNS, (facility_id, start, end))]


def add_turn(
    conn: Connection, facility_id: UUID, step: int, person_id: UUID, start: datetime, end: datetime | None
) -> UUID:
    """Put a person on the rota from `start` until `end` (not included). Raises InputError."""
    rota_plan.check_step(step)
    if end is not None and end <= start:
        raise InputError(_("end of the turn"), end.isoformat(), _("a time after its start"))
    try:
        with conn.transaction():
            return _id(conn, _ADD_TURN, (facility_id, step, person_id, start, end))
    except psycopg.errors.ExclusionViolation:
        until = end.isoformat() if end else _("open end")
        span = _("%(start)s to %(end)s", start=start.isoformat(), end=until)
        raise InputError(
            _("turn"), span, _("a span in which nobody else is on duty at step %(step)s", step=step)
        ) from None


def remove_turn(conn: Connection, facility_id: UUID, turn_id: UUID) -> None:
    """Take a turn off the rota. Raises InputError where the facility has no such turn."""
    if conn.execute(_REMOVE_TURN, (facility_id, turn_id)).rowcount == 0:
        raise InputError(_("turn"), str(turn_id), _("the id of a turn of this facility"))


def _people(rows: Iterable[tuple[Any, ...]], zone: ZoneInfo, at: datetime) -> tuple[dict[UUID, OnDuty], list[UUID]]:
    """People by id, all at step 1, and the ids of those who manage, from the rows of `_PEOPLE`."""
    found: dict[UUID, OnDuty] = {}
    managing: dict[UUID, None] = {}
    for person_id, name, manages, starts, ends, contact_id, way, address in rows:
        quiet = None if starts is None else quiet_until(starts, ends, at, zone)
        known = found.get(person_id, OnDuty(1, person_id, name, (), quiet))
        more = (Contact(contact_id, way, address),) if contact_id is not None else ()
        found[person_id] = replace(known, contacts=known.contacts + more)
        if manages:
            managing[person_id] = None
    return found, list(managing)


def _id(conn: Connection, statement: LiteralString, values: Any) -> UUID:
    row = conn.execute(statement, values).fetchone()
    assert row is not None
    id: UUID = row[0]
    return id

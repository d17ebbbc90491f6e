"""What a rota is made of besides turns by date: weekly turns, holidays, and how long each step has to answer.

Not here: turns by date and who is on duty at a moment (`store.rota`), nor what follows from all of it (`alarms.rota`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import LiteralString
from uuid import UUID
from zoneinfo import ZoneInfo

import psycopg

from wickwatch import log
from wickwatch.alarms import rota_holidays
from wickwatch.alarms.rota import DatedTurn, Pattern, Rota
from wickwatch.errors import InputError
from wickwatch.store.connect import Connection
from wickwatch.texts import _

STEP_MOST = 9
TURN_DAYS_MOST = 56
ANSWER_MINUTES_MOST = 1440
#: People of one round; a year of weekly turns is more than any rota has.
PEOPLE_MOST = 52

# A facility's zone, and whose holidays it keeps.
_FACILITY: LiteralString = """
SELECT f.zone, h.country, h.subdivision FROM facility f LEFT JOIN rota_holidays h ON h.facility_id = f.id
WHERE f.id = %s
"""

# Weekly turns of a facility with their people in order.
_PATTERNS: LiteralString = """
SELECT t.id, t.step, array_agg(p.person_id ORDER BY p.position), t.starts_on, t.hand_over, t.turn_days, t.ends_on,
       t.on_holidays
FROM rota_pattern t JOIN rota_pattern_person p ON p.pattern_id = t.id
WHERE t.facility_id = %s GROUP BY t.id ORDER BY t.step, t.on_holidays, t.starts_on
"""

# Turns by date that overlap a span.
_TURNS: LiteralString = """
SELECT id, step, person_id, lower(during), upper(during) FROM rota_turn
WHERE facility_id = %s AND during && tstzrange(%s, %s) ORDER BY lower(during), step
"""

# The weekly turns of a step that hold on a day end on it.
_END_BEFORE: LiteralString = """
UPDATE rota_pattern SET ends_on = %(day)s
WHERE facility_id = %(facility)s AND step = %(step)s AND on_holidays = %(on_holidays)s
  AND starts_on < %(day)s AND (ends_on IS NULL OR ends_on > %(day)s)
"""

# New weekly turns, without people yet.
_ADD: LiteralString = """
INSERT INTO rota_pattern (facility_id, step, starts_on, hand_over, turn_days, on_holidays)
VALUES (%(facility)s, %(step)s, %(day)s, %(hand_over)s, %(turn_days)s, %(on_holidays)s) RETURNING id
"""

# One person's place in the round.
_ADD_PERSON: LiteralString = "INSERT INTO rota_pattern_person (pattern_id, position, person_id) VALUES (%s, %s, %s)"

# Weekly turns that are to end on a day sooner than they would.
_END: LiteralString = """
UPDATE rota_pattern SET ends_on = %(on)s
WHERE facility_id = %(facility)s AND id = %(id)s AND starts_on < %(on)s AND (ends_on IS NULL OR ends_on >= %(on)s)
"""

# Weekly turns that have not begun by a day, taken off the rota as if they had never been.
_REMOVE: LiteralString = """
DELETE FROM rota_pattern WHERE facility_id = %(facility)s AND id = %(id)s AND starts_on >= %(on)s
"""

# How long each step has to answer.
_STEPS: LiteralString = "SELECT step, answer_minutes FROM rota_step WHERE facility_id = %s ORDER BY step"

# A step's time to answer.
_SET_STEP: LiteralString = """
INSERT INTO rota_step (facility_id, step, answer_minutes) VALUES (%s, %s, %s)
ON CONFLICT (facility_id, step) DO UPDATE SET answer_minutes = excluded.answer_minutes
"""

# Whose holidays a facility keeps.
_SET_HOLIDAYS: LiteralString = """
INSERT INTO rota_holidays (facility_id, country, subdivision) VALUES (%s, %s, %s)
ON CONFLICT (facility_id) DO UPDATE SET country = excluded.country, subdivision = excluded.subdivision
"""

# A facility that keeps no holidays.
_NO_HOLIDAYS: LiteralString = "DELETE FROM rota_holidays WHERE facility_id = %s"


@dataclass(frozen=True)
class Keeping:
    """Whose public holidays a facility keeps."""

    country: str
    subdivision: str | None


def load(conn: Connection, facility_id: UUID, start: datetime, end: datetime) -> Rota:
    """All that decides who has the duty over [start, end)."""
    row = conn.execute(_FACILITY, (facility_id,)).fetchone()
    zone, country, subdivision = row or ("UTC", None, None)
    patterns = tuple(
        Pattern(id, step, tuple(people), starts_on, hand_over, turn_days, ends_on, on_holidays)
        for id, step, people, starts_on, hand_over, turn_days, ends_on, on_holidays in conn.execute(
            _PATTERNS, (facility_id,)
        )
    )
    turns = tuple(DatedTurn(*row) for row in conn.execute(_TURNS, (facility_id, start, end)))
    keeping = Keeping(country, subdivision) if country and any(each.on_holidays for each in patterns) else None
    return Rota(ZoneInfo(zone), patterns, turns, _days(keeping, start, end))


def zone_of(conn: Connection, facility_id: UUID) -> ZoneInfo:
    """The time zone that a facility's clock shows."""
    row = conn.execute(_FACILITY, (facility_id,)).fetchone()
    return ZoneInfo(row[0] if row else "UTC")


def add_pattern(
    conn: Connection,
    facility_id: UUID,
    step: int,
    people: Sequence[UUID],
    starts_on: date,
    hand_over: time,
    turn_days: int = 7,
    *,
    on_holidays: bool = False,
) -> UUID:
    """Let people follow one another at a step from a day on; weekly turns that hold then end there. Raises InputError.

    `hand_over` is a time of the facility's clock; its weekday is that of `starts_on` where turns are whole weeks.
    """
    _check(step, people, turn_days)
    values = {
        "facility": facility_id,
        "step": step,
        "day": starts_on,
        "hand_over": hand_over,
        "turn_days": turn_days,
        "on_holidays": on_holidays,
    }
    try:
        with conn.transaction():
            conn.execute(_END_BEFORE, values)
            row = conn.execute(_ADD, values).fetchone()
            assert row is not None
            for position, person_id in enumerate(people, 1):
                conn.execute(_ADD_PERSON, (row[0], position, person_id))
    except psycopg.errors.ExclusionViolation:
        accepted = _("a day after which no other weekly turns of step %(step)s begin; remove those first", step=step)
        raise InputError(_("first hand-over"), starts_on.isoformat(), accepted) from None
    id: UUID = row[0]
    return id


def end_pattern(conn: Connection, facility_id: UUID, pattern_id: UUID, on: date) -> None:
    """Let weekly turns end on a day, or take them away where they have not begun by then. Raises InputError."""
    values = {"facility": facility_id, "id": pattern_id, "on": on}
    if not conn.execute(_END, values).rowcount and not conn.execute(_REMOVE, values).rowcount:
        accepted = _("the id of weekly turns of this facility that have not ended")
        raise InputError(_("weekly turns"), str(pattern_id), accepted)


def answer_within(conn: Connection, facility_id: UUID) -> Mapping[int, timedelta]:
    """How long those of each step have to say "mine", where the facility has said so."""
    return {step: timedelta(minutes=minutes) for step, minutes in conn.execute(_STEPS, (facility_id,))}


def set_answer_within(conn: Connection, facility_id: UUID, step: int, minutes: int) -> None:
    """How long those of a step have to say "mine" before the next are called. Raises InputError."""
    check_step(step)
    if not 1 <= minutes <= ANSWER_MINUTES_MOST:
        raise InputError(_("minutes to answer"), minutes, _("1 to %(most)s", most=ANSWER_MINUTES_MOST))
    conn.execute(_SET_STEP, (facility_id, step, minutes))


def holidays_kept(conn: Connection, facility_id: UUID) -> Keeping | None:
    """Whose public holidays a facility keeps; None where it keeps none."""
    row = conn.execute(_FACILITY, (facility_id,)).fetchone()
    return Keeping(row[1], row[2]) if row and row[1] else None


def keep_holidays(conn: Connection, facility_id: UUID, country: str | None, subdivision: str | None) -> None:
    """Whose public holidays a facility keeps from now on; `country` None for none. Raises InputError."""
    if country is None:
        conn.execute(_NO_HOLIDAYS, (facility_id,))
        return
    rota_holidays.check(country, subdivision)
    conn.execute(_SET_HOLIDAYS, (facility_id, country, subdivision))


def _days(keeping: Keeping | None, start: datetime, end: datetime) -> Mapping[date, str]:
    """The holidays of a span, and of the days beside it."""
    if keeping is None:
        return {}
    beside = timedelta(days=2)
    try:
        return rota_holidays.between(
            keeping.country, keeping.subdivision, (start - beside).date(), (end + beside).date()
        )
    except InputError as error:  # another version of the library may know other parts: calls must go on all the same
        log.warning("rota.holidays-unknown", why=str(error))
        return {}


def _check(step: int, people: Sequence[UUID], turn_days: int) -> None:
    check_step(step)
    if not 1 <= len(people) <= PEOPLE_MOST:
        raise InputError(_("people who follow one another"), len(people), _("1 to %(most)s", most=PEOPLE_MOST))
    if not 1 <= turn_days <= TURN_DAYS_MOST:
        raise InputError(_("days of a turn"), turn_days, _("1 to %(most)s", most=TURN_DAYS_MOST))


def check_step(step: int) -> None:
    """Raise InputError for a step that can't be."""
    if not 1 <= step <= STEP_MOST:
        raise InputError(
            _("step"),
            step,
            _("1 for who is called first, 2 for who is called next, up to %(most)s", most=STEP_MOST),
        )

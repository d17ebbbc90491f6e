"""What people do, from a page or a program alike: answer an alarm, record work.

Not here: what an answer leads to (`alarms`), or who may; callers look at the role first, or it is looked at here.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch import log
from wickwatch.alarms import Act, ActName
from wickwatch.errors import InputError
from wickwatch.store import alarms as stored
from wickwatch.store import pages, work
from wickwatch.store.connect import Connection
from wickwatch.store.pages import AlarmRow
from wickwatch.web.access import Call
from wickwatch.web.problems import not_found

__all__ = ["ActName", "answer", "record", "record_from_form"]


def answer(call: Call, row: AlarmRow, name: ActName, note: str = "", for_: timedelta | None = None) -> AlarmRow:
    """Answer an alarm as a grower; returns it as it is then.

    Raises RefusedError where its state can't take that, or somebody else was first.
    """
    call.require(row.facility_id, "grower")
    act = Act(name, call.now + for_ if for_ is not None else None, " ".join(note.split()))
    with call.web.connection() as conn:
        stored.apply_event(conn, row.id, act, call.person_id, call.now, call.facility_ids)
        after = pages.alarm(conn, row.id, call.facility_ids)
    if after is None:
        raise not_found("alarm")
    log.event("alarm.answered", alarm=row.id, act=name, person=call.name)
    return after


def record(
    conn: Connection,
    call: Call,
    kind: str,
    subject_type: str,
    subject_id: UUID,
    at: datetime,
    note: str,
    alarm_id: UUID | None = None,
) -> work.Entry:
    """Record work as a grower, in the facilities where the caller is one."""
    allowed = [id for id, facility in call.facilities.items() if facility.allows("grower")]
    entry = work.add(
        conn,
        allowed,
        kind=kind,
        subject_type=subject_type,
        subject_id=subject_id,
        at=at,
        now=call.now,
        person_id=call.person_id,
        alarm_id=alarm_id,
        note=note,
    )
    log.event("work.recorded", kind=kind, subject=subject_id, person=call.name)
    return entry


def record_from_form(
    conn: Connection,
    call: Call,
    facility_id: UUID,
    kind: str,
    subject: str,
    at: str,
    note: str,
    alarm_id: UUID | None = None,
) -> None:
    """Record work from a form: `subject` is `type:id`, `at` a time of the facility's clock or empty for now."""
    facility = call.require(facility_id, "grower")
    subject_type, _, id = subject.partition(":")
    try:
        subject_id = UUID(id)
    except ValueError:
        raise InputError("subject", subject, "one of the list") from None
    when = _facility_time(at, ZoneInfo(facility.zone)) if at else call.now
    record(conn, call, kind, subject_type, subject_id, when, note.strip(), alarm_id)


def _facility_time(text: str, zone: ZoneInfo) -> datetime:
    try:
        return datetime.fromisoformat(text).replace(tzinfo=zone)
    except ValueError:
        raise InputError("time of the work", text, "a date and time, such as 2026-11-20T04:12") from None

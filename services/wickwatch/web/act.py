"""What people do, from a page or a program alike: answer an alarm, record work, take a part out of service.

Not here: what an answer leads to (`alarms`), or who may; callers look at the role first, or it is looked at here.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Annotated
from uuid import UUID
from zoneinfo import ZoneInfo

from fastapi import Form

from wickwatch import log
from wickwatch.alarms import Act, ActName
from wickwatch.errors import InputError
from wickwatch.store import alarms as stored
from wickwatch.store import pages, service, work
from wickwatch.store.connect import Connection
from wickwatch.store.pages import AlarmRow
from wickwatch.texts import N_
from wickwatch.web.access import Call
from wickwatch.web.problems import not_found
from wickwatch.web.told import told

__all__ = ["ActName", "WorkFields", "answer", "bring_back", "record", "record_from_form", "take_out", "withdraw"]


@dataclass(frozen=True)
class WorkFields:
    """The fields of a form for work, as they were sent."""

    kind: Annotated[str, Form(max_length=120)]
    subject: Annotated[str, Form(max_length=60)] = ""
    ago: Annotated[str, Form(max_length=10)] = ""
    at: Annotated[str, Form(max_length=20)] = ""
    note: Annotated[str, Form(max_length=500)] = ""


def answer(call: Call, row: AlarmRow, name: ActName, note: str = "", for_: timedelta | None = None) -> AlarmRow:
    """Answer an alarm as a grower; returns it as it is then.

    Raises RefusedError where its state can't take that, or somebody else was first.
    """
    call.require(row.facility_id, "answer alarms")
    act = Act(name, call.now + for_ if for_ is not None else None, " ".join(note.split()))
    with call.web.connection() as conn:
        stored.apply_event(conn, row.id, act, call.person_id, call.now, call.facility_ids)
        after = pages.alarm(conn, row.id, call.facility_ids)
    if after is None:
        raise not_found(N_("alarm"))
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
    corrects: UUID | None = None,
) -> work.Entry:
    """Record work as a grower, in the facilities where the caller is one; `corrects` is an entry it stands for."""
    entry = work.add(
        conn,
        call.where("record work"),
        kind=kind,
        subject_type=subject_type,
        subject_id=subject_id,
        at=at,
        now=call.now,
        person_id=call.person_id,
        alarm_id=alarm_id,
        note=note,
        corrects=corrects,
    )
    log.event("work.recorded", kind=kind, subject=subject_id, person=call.name, corrects=corrects)
    return entry


def take_out(conn: Connection, call: Call, type: str, part: str, until: datetime, note: str) -> service.Listed:
    """Take a part out of service, in the facilities where the caller is a grower. Raises InputError."""
    allowed = call.require_somewhere("take out of service")
    listed = service.add(
        conn, allowed, type=type, part=part, until=until, now=call.now, person_id=call.person_id, note=note.strip()
    )
    log.event("service.out", type=type, part=listed.period.name, until=until.isoformat(), person=call.name)
    return listed


def bring_back(conn: Connection, call: Call, id: UUID) -> None:
    """End a part's being out of service. Raises RefusedError where it is over."""
    allowed = call.require_somewhere("take out of service")
    try:
        service.end(conn, allowed, id, call.now, call.person_id)
    except InputError:
        raise not_found(N_("period out of service")) from None
    log.event("service.back", period=id, person=call.name)


def withdraw(conn: Connection, call: Call, facility_id: UUID, entry_id: UUID) -> None:
    """Say, as a grower of the facility, that what an entry tells was not done."""
    call.require(facility_id, "record work")
    work.withdraw(conn, entry_id, [facility_id], call.now, call.person_id)
    log.event("work.withdrawn", entry=entry_id, person=call.name)


def record_from_form(
    conn: Connection,
    call: Call,
    facility_id: UUID,
    form: WorkFields,
    alarm_id: UUID | None = None,
    corrects: UUID | None = None,
) -> work.Entry:
    """Record what somebody told in a form, as a grower of the facility. Raises InputError."""
    facility = call.require(facility_id, "record work")
    what = told(form.kind, form.subject, form.ago, form.at, form.note, ZoneInfo(facility.zone), call.now)
    return record(conn, call, what.kind, what.subject_type, what.subject_id, what.at, what.note, alarm_id, corrects)

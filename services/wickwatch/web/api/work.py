"""Work entries: what a person did, where and when."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter
from pydantic import Field

from wickwatch.fleet import WorkKind
from wickwatch.store import pages
from wickwatch.web import act
from wickwatch.web.access import ApiCall
from wickwatch.web.api import models, shapes
from wickwatch.web.api.fields import Body, Moment, Note, uuid
from wickwatch.web.problems import ProblemError, not_found

router = APIRouter(tags=["work"])


class SubjectOf(Body):
    """What was worked on."""

    type: Literal["container", "reservoir", "line", "room", "gateway"]
    id: str = Field(max_length=36)


class NewWork(Body):
    """What somebody did."""

    kind: WorkKind
    subject: SubjectOf
    at: Moment | None = Field(default=None, description="when it was done; now where it is not given")
    alarm: str | None = Field(default=None, max_length=36, description="id of the alarm it answers")
    note: Note = ""


@router.post("/work", status_code=201)
def add_work(call: ApiCall, body: NewWork) -> models.Work:
    """Record what the caller did; what it was about is watched while it settles."""
    if not any(facility.allows("grower") for facility in call.facilities.values()):
        raise ProblemError(403, "this needs the role grower")
    subject_id = uuid(body.subject.id, body.subject.type)
    alarm_id = uuid(body.alarm, "alarm") if body.alarm else None
    with call.web.connection() as conn:
        subject = pages.subject(conn, body.subject.type, subject_id, call.facility_ids)
        if subject is None:
            raise not_found(body.subject.type)
        call.require(subject.facility_id, "grower")
        entry = act.record(
            conn, call, body.kind, body.subject.type, subject_id, body.at or call.now, body.note, alarm_id
        )
    return models.Work(
        id=str(entry.id),
        kind=entry.kind,
        facility=subject.facility_slug,
        room=subject.room_slug,
        subject=models.Subject(type=body.subject.type, id=str(subject_id), name=subject.name),
        at=shapes.as_utc(entry.at),
        person=entry.person,
        alarm=str(entry.alarm_id) if entry.alarm_id else None,
        note=entry.note,
    )

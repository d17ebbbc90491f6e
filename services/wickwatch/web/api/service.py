"""Parts out of service: what is under maintenance, until when, and taking something out or bringing it back."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import Field

from wickwatch.alarms import PartType
from wickwatch.alarms.policy import OUT_OF_SERVICE_MOST
from wickwatch.store import service
from wickwatch.store.service import Listed
from wickwatch.web import act
from wickwatch.web.access import ApiCall
from wickwatch.web.api import models
from wickwatch.web.api.fields import Body, Limit, Moment, Note, Slug, uuid
from wickwatch.web.api.shapes import as_utc, utc
from wickwatch.web.problems import ProblemError, conflict

router = APIRouter(tags=["out of service"])

MOST_S = int(OUT_OF_SERVICE_MOST.total_seconds())


class Part(Body):
    """What is under maintenance; it takes with it what stands on it: a line its containers, a room all in it."""

    type: PartType
    id: str = Field(max_length=255, description="its id; of a device its URN, as channels name it before the quantity")


class TakeOut(Body):
    """Takes a part out of service; it always has an end."""

    subject: Part
    until: Moment | None = Field(default=None, description="end; or say `for_s`")
    for_s: int | None = Field(default=None, ge=60, le=MOST_S, description="how long, instead of `until`")
    note: Note = Field(default="", description="why")


@router.get("/out-of-service")
def list_periods(
    call: ApiCall,
    facility: Annotated[Slug | None, Query(description="slug; only parts of this facility")] = None,
    room: Annotated[str | None, Query(max_length=63, description="id of a room")] = None,
    past: Annotated[bool, Query(description="those that are over, too")] = False,
    limit: Limit = 100,
) -> models.OutOfServiceList:
    """What is out of service; what ends first comes first."""
    wanted = [call.facility(facility).id] if facility else call.facility_ids
    room_id = uuid(room, "room") if room else None
    with call.web.connection() as conn:
        found = service.listed(conn, wanted, call.now, room_id=room_id, past=past, limit=limit)
    return models.OutOfServiceList(items=[shape(each) for each in found])


@router.post("/out-of-service", status_code=201)
def take_out(call: ApiCall, body: TakeOut) -> models.OutOfService:
    """Take a part out of service: its alarms call nobody from the next look on, at most half a minute later."""
    if (body.until is None) == (body.for_s is None):
        raise ProblemError(422, "either `until` or `for_s` says when it ends")
    until = body.until or call.now + timedelta(seconds=body.for_s or 0)
    with call.web.connection() as conn:
        return shape(act.take_out(conn, call, body.subject.type, body.subject.id, until, body.note))


@router.post("/out-of-service/{id}/end", status_code=204, responses=conflict("It is in service again already"))
def end(call: ApiCall, id: str) -> None:
    """Bring a part back before its end: what still holds there calls from the next look on."""
    with call.web.connection() as conn:
        act.bring_back(conn, call, uuid(id, "period out of service"))


def shape(listed: Listed) -> models.OutOfService:
    """A period as calls answer it."""
    period = listed.period
    part = period.name if period.type == "device" else str(period.part_id)
    return models.OutOfService(
        id=str(period.id),
        facility=listed.facility,
        room=listed.room,
        subject=models.PartOut(type=period.type, id=part, name=period.name),
        since=as_utc(period.since),
        until=as_utc(period.until),
        note=period.note,
        person=listed.person,
        ended_at=utc(period.ended_at),
    )

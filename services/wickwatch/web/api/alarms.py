"""Alarms: lists, one alarm, and what a person may do with one."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Query
from pydantic import Field

from wickwatch.alarms import Alarm
from wickwatch.alarms.policy import SHELVE_MOST
from wickwatch.fleet import Kind
from wickwatch.store import pages, past
from wickwatch.store.pages import AlarmRow, Cursor
from wickwatch.web import act
from wickwatch.web.access import ApiCall, Call
from wickwatch.web.api import models, shapes
from wickwatch.web.api.fields import (
    Body,
    CursorText,
    Limit,
    Moment,
    Note,
    Slug,
    cursor_moment,
    cursor_uuid,
    pack,
    unpack,
    uuid,
)
from wickwatch.web.problems import ProblemError, conflict, not_found

router = APIRouter(tags=["alarms"])

#: Shelving has an end by rule (IEC 62682): this long where nobody says, and at most so long.
SHELVE_S = 4 * 3600
SHELVE_MOST_S = int(SHELVE_MOST.total_seconds())

_NOT_NOW = conflict("The alarm's state does not allow it")


class Acknowledge(Body):
    """Says that somebody has it."""

    note: Note = ""


class Shelve(Body):
    """Takes an alarm out of sight for a time."""

    for_s: int = Field(default=SHELVE_S, ge=60, le=SHELVE_MOST_S, description="how long")
    note: Note = Field(default="", description="why")


@router.get("/alarms")
def list_alarms(
    call: ApiCall,
    active: Annotated[bool | None, Query(description="true: whose life is not over; false: whose is")] = None,
    since: Annotated[Moment | None, Query(description="raised at this time or later")] = None,
    facility: Annotated[Slug | None, Query(description="slug; only alarms of this facility")] = None,
    room: Annotated[str | None, Query(max_length=63, description="id of a room")] = None,
    kind: Kind | None = None,
    at: Annotated[Moment | None, Query(description="those open at this time, as they were then")] = None,
    limit: Limit = 100,
    cursor: CursorText = None,
) -> models.AlarmPage:
    """Alarms the caller may see, newest first."""
    wanted = [call.facility(facility).id] if facility else call.facility_ids
    after = None
    if cursor:
        raised_at, id = unpack(cursor, 2)
        after = Cursor(cursor_moment(raised_at, cursor), cursor_uuid(id, cursor))
    then: dict[UUID, Alarm] | None = None
    with call.web.connection() as conn:
        if at is not None:
            if active is False:
                raise ProblemError(422, "`at` lists alarms that were open; `active=false` asks for others")
            then = {alarm.id: alarm for alarm in past.standing_at(conn, wanted, at)}
        rows = pages.alarms(
            conn,
            wanted,
            limit + 1,
            active=active if then is None else None,
            ids=None if then is None else list(then),
            since=since,
            room_id=uuid(room, "room") if room else None,
            kind=kind,
            after=after,
        )
    last = rows[limit - 1] if len(rows) > limit else None
    return models.AlarmPage(
        items=[shapes.alarm(row) if then is None else shapes.alarm_then(row, then[row.id]) for row in rows[:limit]],
        next_cursor=pack(last.raised_at.isoformat(), str(last.id)) if last else None,
    )


@router.get("/alarms/{id}")
def one_alarm(call: ApiCall, id: str) -> models.Alarm:
    """One alarm."""
    return shapes.alarm(find(call, id))


@router.post("/alarms/{id}/acknowledge", responses=_NOT_NOW)
def acknowledge(call: ApiCall, id: str, body: Acknowledge | None = None) -> models.Alarm:
    """Say that the caller has it; said twice by the same person it changes nothing."""
    row = find(call, id)
    return shapes.alarm(act.answer(call, row, "acknowledge", note=body.note if body else ""))


@router.post("/alarms/{id}/shelve", responses=_NOT_NOW)
def shelve(call: ApiCall, id: str, body: Shelve | None = None) -> models.Alarm:
    """Take an alarm out of sight for a time; it comes back by itself if its condition holds then."""
    row = find(call, id)
    wanted = body or Shelve()
    return shapes.alarm(act.answer(call, row, "shelve", note=wanted.note, for_=timedelta(seconds=wanted.for_s)))


@router.post("/alarms/{id}/unshelve", responses=_NOT_NOW)
def unshelve(call: ApiCall, id: str) -> models.Alarm:
    """Bring a shelved alarm back."""
    row = find(call, id)
    return shapes.alarm(act.answer(call, row, "unshelve"))


def find(call: Call, id: str) -> AlarmRow:
    """An alarm the caller may see; 404 for any other."""
    alarm_id = uuid(id, "alarm")
    with call.web.connection() as conn:
        row = pages.alarm(conn, alarm_id, call.facility_ids)
    if row is None:
        raise not_found("alarm")
    return row

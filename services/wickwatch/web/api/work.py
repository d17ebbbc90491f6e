"""Work entries: what a person did, where and when."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated, Literal

from fastapi import APIRouter, Query
from pydantic import Field

from wickwatch.fleet import WorkKind
from wickwatch.store import pages
from wickwatch.store.connect import Connection
from wickwatch.store.judged import Judged, judged
from wickwatch.store.people import Visible
from wickwatch.store.work import AHEAD, kept
from wickwatch.web import act
from wickwatch.web.access import ApiCall
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
from wickwatch.web.problems import conflict, not_found

router = APIRouter(tags=["work"])

_CORRECTED = conflict("Somebody has already corrected that entry")


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
    corrects: str | None = Field(default=None, max_length=36, description="id of the entry it stands in place of")


@router.get("/work")
def list_work(
    call: ApiCall,
    since: Annotated[Moment | None, Query(description="done at this time or later; a week ago if not given")] = None,
    until: Annotated[Moment | None, Query(description="done before this time; now if not given")] = None,
    facility: Annotated[Slug | None, Query(description="slug; only work of this facility")] = None,
    limit: Limit = 50,
    cursor: CursorText = None,
) -> models.WorkPage:
    """Work done, the newest first, as it stands after corrections, each with what an alarm says of it."""
    wanted = [call.facility(facility)] if facility else list(call.facilities.values())
    end = until or call.now + AHEAD
    start = since or end - timedelta(days=7)
    if cursor:
        at, id = unpack(cursor, 2)
        before = (cursor_moment(at, cursor), cursor_uuid(id, cursor))
    found: list[tuple[Visible, Judged]] = []
    with call.web.connection() as conn:
        for each in wanted:
            found += [(each, entry) for entry in judged(conn, each.id, start, end)]
        found.sort(key=lambda pair: (pair[1].entry.at, pair[1].entry.id), reverse=True)
        if cursor:
            found = [pair for pair in found if (pair[1].entry.at, pair[1].entry.id) < before]
        items = [_shown(conn, visible, entry) for visible, entry in found[:limit]]
    last = found[limit - 1][1].entry if len(found) > limit else None
    return models.WorkPage(items=items, next_cursor=pack(last.at.isoformat(), str(last.id)) if last else None)


@router.post("/work", status_code=201, responses=_CORRECTED)
def add_work(call: ApiCall, body: NewWork) -> models.Work:
    """Record what the caller did; what it was about is watched while it settles."""
    call.require_somewhere("record work")
    subject_id = uuid(body.subject.id, body.subject.type)
    alarm_id = uuid(body.alarm, "alarm") if body.alarm else None
    corrects = uuid(body.corrects, "work entry") if body.corrects else None
    with call.web.connection() as conn:
        subject = pages.subject(conn, body.subject.type, subject_id, call.facility_ids)
        if subject is None:
            raise not_found(body.subject.type)
        call.require(subject.facility_id, "record work")
        entry = act.record(
            conn, call, body.kind, body.subject.type, subject_id, body.at or call.now, body.note, alarm_id, corrects
        )
    return shapes.work(Judged(entry), subject.facility_slug, subject.room_slug, subject.name)


@router.post("/work/{id}/withdraw", status_code=204, responses=_CORRECTED)
def withdraw_work(call: ApiCall, id: str) -> None:
    """Say that what an entry tells was not done; it stays in the record and counts no more."""
    with call.web.connection() as conn:
        found = kept(conn, uuid(id, "work entry"), call.facility_ids)
        if found is None:
            raise not_found("work entry")
        act.withdraw(conn, call, found.facility_id, found.entry.id)


def _shown(conn: Connection, facility: Visible, entry: Judged) -> models.Work:
    subject = pages.subject(conn, entry.entry.subject_type, entry.entry.subject_id, [facility.id])
    room = subject.room_slug if subject else None
    return shapes.work(entry, facility.slug, room, subject.name if subject else entry.entry.subject_type)

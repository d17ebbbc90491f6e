"""One room: its page, the table behind its charts, the values for the pointer, recording work, and maintenance."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Depends, Form, Query, Request, Response
from fastapi.responses import JSONResponse

from wickwatch.store import pages, refills, work
from wickwatch.store import service as stored_service
from wickwatch.store.connect import Connection
from wickwatch.store.judged import judged
from wickwatch.web import act, settled
from wickwatch.web.access import FormToken, PageCall
from wickwatch.web.api.fields import uuid
from wickwatch.web.pages.show import alive, go, part, show
from wickwatch.web.room import visible_room
from wickwatch.web.views import room as view
from wickwatch.web.views import settled as view_settled
from wickwatch.web.views import values as values_of
from wickwatch.web.views.service import service_part
from wickwatch.web.views.state import RoomState

router = APIRouter()

SpanKey = Annotated[str, Query(alias="span", max_length=10)]

#: Alarms marked on one chart at most, the newest.
_MOST_MARKS = 200

#: Work that something may still settle after: twelve times two hours, and as much again for a slow medium.
_LATELY = timedelta(days=8)


@router.get("/rooms/{id}")
def page(
    request: Request,
    call: PageCall,
    id: str,
    span_key: SpanKey = "",
    part_of: Annotated[str, Query(alias="part", max_length=10)] = "",
) -> Response:
    """The room page."""
    span = values_of.span_of(span_key)
    shown = values_of.window(span, call.now)
    with call.web.connection() as conn:
        state = visible_room(conn, call, uuid(id, "room"))
        buckets = _buckets(conn, state, shown)
        alarms = pages.alarms(conn, [state.row.facility_id], _MOST_MARKS, room_id=state.row.id, since=shown.start)
        where = (state.row.facility_id, shown.start, shown.end, state.row.id)
        done, filled = judged(conn, *where), refills.seen(conn, *where)
        lately = work.recent(conn, state.row.facility_id, call.now - _LATELY)
        going = [each for each in state.containers if view_settled.after(each, state, lately, call.now)]
        settling = view_settled.lines(state, settled.answers(conn, going, call.now), lately, call.now)
        out = stored_service.listed(conn, [state.row.facility_id], call.now, room_id=state.row.id)
        devices = stored_service.devices(conn, state.row.id, call.now)
        banners = alive(conn, call)
    may_act = call.facilities[state.row.facility_id].allows("grower")
    service = service_part(state, out, devices, call.now, may_act)
    made = view.page(state, span, shown, buckets, alarms, done, filled, settling, service, banners, call.now, may_act)
    if part_of == "room":
        return part(request, call, "room_part.html", made)
    return show(request, call, "room.html", made)


@router.get("/rooms/{id}/settled")
def settled_page(
    request: Request, call: PageCall, id: str, part_of: Annotated[str, Query(alias="part", max_length=10)] = ""
) -> Response:
    """Which containers are ready for their emitters."""
    with call.web.connection() as conn:
        state = visible_room(conn, call, uuid(id, "room"))
        found = settled.answers(conn, state.containers, call.now)
        lately = work.recent(conn, state.row.facility_id, call.now - _LATELY)
        made = view_settled.page(state, found, lately, alive(conn, call), call.now)
    if part_of == "settled":
        return part(request, call, "settled_part.html", made)
    return show(request, call, "settled.html", made)


@router.get("/rooms/{id}/table")
def table(request: Request, call: PageCall, id: str, span_key: SpanKey = "") -> Response:
    """The values of the charts as a table."""
    span = values_of.span_of(span_key)
    shown = values_of.window(span, call.now)
    with call.web.connection() as conn:
        state = visible_room(conn, call, uuid(id, "room"))
        buckets = _buckets(conn, state, shown)
        banners = alive(conn, call)
    made = values_of.table(state, shown, buckets, call.now)
    return show(request, call, "table.html", made, state=state, span=span, spans=values_of.SPANS, found=banners)


@router.get("/rooms/{id}/values")
def values(call: PageCall, id: str, span_key: SpanKey = "") -> Response:
    """The values of the charts for the script that tells them under the pointer."""
    shown = values_of.window(values_of.span_of(span_key), call.now)
    with call.web.connection() as conn:
        state = visible_room(conn, call, uuid(id, "room"))
        buckets = _buckets(conn, state, shown)
    return JSONResponse(values_of.pointer_values(state, shown, buckets, call.now))


@router.post("/rooms/{id}/work")
def record(
    call: PageCall,
    id: str,
    form: Annotated[act.WorkFields, Depends()],
    form_token: FormToken = "",
) -> Response:
    """Record what somebody did, and show the room again."""
    call.check_form(form_token)
    with call.web.connection() as conn:
        state = visible_room(conn, call, uuid(id, "room"))
        act.record_from_form(conn, call, state.row.facility_id, form)
    return go(f"/rooms/{state.row.id}#work")


@router.post("/rooms/{id}/out-of-service")
def take_out(
    call: PageCall,
    id: str,
    part: Annotated[str, Form(max_length=300)],
    hours: Annotated[int, Form(ge=1, le=672)] = 4,
    note: Annotated[str, Form(max_length=500)] = "",
    form_token: FormToken = "",
) -> Response:
    """Take a part of the room out of service for some hours, and show the room again."""
    call.check_form(form_token)
    type, _, name = part.partition(":")
    with call.web.connection() as conn:
        state = visible_room(conn, call, uuid(id, "room"))
        call.require(state.row.facility_id, "grower")
        act.take_out(conn, call, type, name, call.now + timedelta(hours=hours), note)
    return go(f"/rooms/{state.row.id}#service")


@router.post("/rooms/{id}/out-of-service/{period}/end")
def bring_back(call: PageCall, id: str, period: str, form_token: FormToken = "") -> Response:
    """Bring a part of the room back before its end, and show the room again."""
    call.check_form(form_token)
    with call.web.connection() as conn:
        state = visible_room(conn, call, uuid(id, "room"))
        call.require(state.row.facility_id, "grower")
        act.bring_back(conn, call, uuid(period, "period out of service"))
    return go(f"/rooms/{state.row.id}#service")


def _buckets(conn: Connection, state: RoomState, shown: values_of.Window) -> list[pages.Bucket]:
    return pages.buckets(conn, values_of.channel_ids(state), shown.start, shown.end, shown.every)

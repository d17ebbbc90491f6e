"""One room: its page, the table and the numbers behind its charts, recording work, and maintenance."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Form, Query, Request, Response
from fastapi.responses import JSONResponse

from wickwatch.store import pages, refills, work
from wickwatch.store import service as stored_service
from wickwatch.store.connect import Connection
from wickwatch.store.judged import Judged, judged
from wickwatch.texts import N_
from wickwatch.web import act, days, live, settled
from wickwatch.web.access import FormToken, PageCall
from wickwatch.web.api.fields import uuid
from wickwatch.web.pages.show import alive, go, part, show
from wickwatch.web.room import visible_room
from wickwatch.web.views import room as view
from wickwatch.web.views import settled as view_settled
from wickwatch.web.views import values as values_of
from wickwatch.web.views.chart_data import chart_data
from wickwatch.web.views.room_charts import level_figure, marked, tension_figure
from wickwatch.web.views.service import service_part
from wickwatch.web.views.state import RoomState

router = APIRouter()

SpanKey = Annotated[str, Query(alias="span", max_length=10)]
Only = Annotated[str, Query(max_length=40)]

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
    only: Only = "",
    part_of: Annotated[str, Query(alias="part", max_length=10)] = "",
) -> Response:
    """The room page; `only` names a container that is shown alone."""
    span = values_of.span_of(span_key)
    shown = values_of.window(span, call.now)
    with call.web.connection() as conn:
        state = visible_room(conn, call, uuid(id, N_("room")))
        means, alarms, done, filled = _charted(conn, state, shown)
        lately = work.recent(conn, state.row.facility_id, call.now - _LATELY)
        past = days.load(conn, state, lately, call.now)
        answers = settled.answers(conn, state.containers, call.now)
        out = stored_service.listed(conn, [state.row.facility_id], call.now, room_id=state.row.id)
        devices = stored_service.devices(conn, state.row.id, call.now)
        banners = alive(conn, call)
        version = "" if part_of else live.version(pages.stamp(conn, call.facility_ids, call.now), {}, banners)
    may_act = call.may(state.row.facility_id, "record work")
    made = view.page(
        state,
        span,
        shown,
        means,
        alarms,
        done,
        filled,
        {line.id: line for line in view_settled.lines(state, answers, lately, call.now)},
        past,
        service_part(state, out, devices, call.now, may_act),
        banners,
        call.now,
        may_act,
        _one(state, only),
    )
    if part_of == "room":
        return part(request, call, "room_part.html", made)
    return show(request, call, "room.html", made, version=version)


@router.get("/rooms/{id}/settled")
def settled_page(
    request: Request, call: PageCall, id: str, part_of: Annotated[str, Query(alias="part", max_length=10)] = ""
) -> Response:
    """Which containers are ready for their emitters."""
    with call.web.connection() as conn:
        state = visible_room(conn, call, uuid(id, N_("room")))
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
        state = visible_room(conn, call, uuid(id, N_("room")))
        means = _means(conn, state, shown)
        banners = alive(conn, call)
    made = values_of.table(state, shown, means, call.now)
    return show(request, call, "table.html", made, state=state, span=span, spans=values_of.SPANS, found=banners)


@router.get("/rooms/{id}/values")
def values(call: PageCall, id: str, span_key: SpanKey = "") -> Response:
    """The charts as numbers, for the script that draws them again."""
    shown = values_of.window(values_of.span_of(span_key), call.now)
    with call.web.connection() as conn:
        state = visible_room(conn, call, uuid(id, N_("room")))
        means, alarms, done, filled = _charted(conn, state, shown)
        past = days.load(conn, state, work.recent(conn, state.row.facility_id, call.now - _LATELY), call.now)
    marks = marked(alarms, done, filled, state)
    figures = [tension_figure(state, shown, means, marks, days=past)]
    figures += [level_figure(state, one, shown, means, marks) for one in state.reservoirs]
    return JSONResponse(chart_data(figures, call.now))


@router.get("/rooms/{id}/values.csv")
def values_file(call: PageCall, id: str, span_key: SpanKey = "") -> Response:
    """The values of the charts as a file."""
    span = values_of.span_of(span_key)
    shown = values_of.window(span, call.now)
    with call.web.connection() as conn:
        state = visible_room(conn, call, uuid(id, N_("room")))
        means = _means(conn, state, shown)
    name = f"{state.row.facility_slug}-{state.row.slug}-{span.key}.csv"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(values_of.csv_text(state, shown, means), headers=headers, media_type="text/csv; charset=utf-8")


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
        state = visible_room(conn, call, uuid(id, N_("room")))
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
        state = visible_room(conn, call, uuid(id, N_("room")))
        call.require(state.row.facility_id, "take out of service")
        act.take_out(conn, call, type, name, call.now + timedelta(hours=hours), note)
    return go(f"/rooms/{state.row.id}#service")


@router.post("/rooms/{id}/out-of-service/{period}/end")
def bring_back(call: PageCall, id: str, period: str, form_token: FormToken = "") -> Response:
    """Bring a part of the room back before its end, and show the room again."""
    call.check_form(form_token)
    with call.web.connection() as conn:
        state = visible_room(conn, call, uuid(id, N_("room")))
        call.require(state.row.facility_id, "take out of service")
        act.bring_back(conn, call, uuid(period, N_("period out of service")))
    return go(f"/rooms/{state.row.id}#service")


def _charted(
    conn: Connection, state: RoomState, shown: values_of.Window
) -> tuple[values_of.Means, list[pages.AlarmRow], list[Judged], list[refills.Refill]]:
    """What the charts of a room show: readings, alarms, work, and refills seen in the level."""
    facility_id, room_id = state.row.facility_id, state.row.id
    alarms = pages.alarms(conn, [facility_id], _MOST_MARKS, room_id=room_id, since=shown.start)
    where = (facility_id, shown.start, shown.end, room_id)
    return _means(conn, state, shown), alarms, judged(conn, *where), refills.seen(conn, *where)


def _one(state: RoomState, only: str) -> UUID | None:
    """The container that is shown alone, None where none is named or it is not of this room."""
    return next((each.row.id for each in state.containers if str(each.row.id) == only), None)


def _means(conn: Connection, state: RoomState, shown: values_of.Window) -> values_of.Means:
    return pages.means(conn, values_of.channel_ids(state), shown.start, shown.end, shown.every)

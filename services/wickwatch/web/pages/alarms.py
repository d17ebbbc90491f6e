"""One alarm, and what a person may do with it. Not here: the list (`alarm_list`)."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Depends, Form, Query, Request, Response
from fastapi.responses import JSONResponse

from wickwatch.store import pages
from wickwatch.store.connect import Connection
from wickwatch.store.pages import AlarmRow
from wickwatch.texts import N_
from wickwatch.web import act, live
from wickwatch.web.access import Call, FormToken, PageCall
from wickwatch.web.api.fields import uuid
from wickwatch.web.pages.show import alive, go, part, show
from wickwatch.web.problems import not_found
from wickwatch.web.room import room_state
from wickwatch.web.views import alarm as view
from wickwatch.web.views import work as view_work
from wickwatch.web.views.chart_data import chart_data
from wickwatch.web.views.plan import Marked
from wickwatch.web.views.room_charts import Figure, level_figure, tension_figure
from wickwatch.web.views.state import RoomState
from wickwatch.web.views.values import Window, channel_ids

router = APIRouter()

_MOST_EXPLAINED = 100

#: What the chart of an alarm shows: how long before it was raised, and after at most.
_BEFORE = timedelta(hours=18)
_AFTER = timedelta(hours=6)
_EVERY = timedelta(minutes=10)

Note = Annotated[str, Form(max_length=500)]


@router.get("/alarms/{id}")
def one_page(
    request: Request,
    call: PageCall,
    id: str,
    part_of: Annotated[str, Query(alias="part", max_length=10)] = "",
) -> Response:
    """One alarm."""
    with call.web.connection() as conn:
        made = load(conn, call, _alarm(conn, call, id))
        version = "" if part_of else live.version(pages.stamp(conn, call.facility_ids, call.now), {}, made.banners)
    if part_of == "alarm":
        return part(request, call, "alarm_part.html", made)
    return show(request, call, "alarm.html", made, version=version)


@router.get("/alarms/{id}/values")
def values(call: PageCall, id: str) -> Response:
    """The chart around an alarm as numbers, for the script that draws it again."""
    with call.web.connection() as conn:
        row = _alarm(conn, call, id)
        state = room_state(conn, call, row.facility_id, row.room_id)
        figure = _figure(conn, call, row, state) if state else None
    if figure is None:
        raise not_found(N_("chart"))
    return JSONResponse(chart_data([figure], call.now))


@router.post("/alarms/{id}/acknowledge")
def acknowledge(call: PageCall, id: str, form_token: FormToken = "", note: Note = "") -> Response:
    """Say "mine" to an alarm."""
    return _answer(call, id, form_token, "acknowledge", note=note)


@router.post("/alarms/{id}/shelve")
def shelve(
    call: PageCall,
    id: str,
    hours: Annotated[int, Form(ge=1, le=24)] = 4,
    form_token: FormToken = "",
    note: Note = "",
) -> Response:
    """Take an alarm out of sight for some hours."""
    return _answer(call, id, form_token, "shelve", note=note, for_=timedelta(hours=hours))


@router.post("/alarms/{id}/unshelve")
def unshelve(call: PageCall, id: str, form_token: FormToken = "") -> Response:
    """Bring a shelved alarm back."""
    return _answer(call, id, form_token, "unshelve")


@router.post("/alarms/{id}/work")
def work(
    call: PageCall,
    id: str,
    form: Annotated[act.WorkFields, Depends()],
    form_token: FormToken = "",
) -> Response:
    """Record what was done about an alarm."""
    call.check_form(form_token)
    with call.web.connection() as conn:
        row = _alarm(conn, call, id)
        act.record_from_form(conn, call, row.facility_id, form, row.id)
    return go(f"/alarms/{row.id}")


def load(conn: Connection, call: Call, row: AlarmRow) -> view.AlarmPage:
    """Everything the page of an alarm shows."""
    state = room_state(conn, call, row.facility_id, row.room_id)
    return view.alarm_page(
        row,
        pages.journal(conn, row.id),
        pages.notices(conn, row.id),
        pages.work_of_alarm(conn, row.id),
        pages.alarm(conn, row.cause_id, [row.facility_id]) if row.cause_id else None,
        pages.alarms(conn, [row.facility_id], _MOST_EXPLAINED, cause_id=row.id),
        _figure(conn, call, row, state).drawn() if state else None,
        view_work.form_of_alarm(row, state, call.now),
        alive(conn, call),
        call.may(row.facility_id, "answer alarms"),
        call.now,
    )


def _answer(
    call: Call, id: str, form_token: str, name: act.ActName, note: str = "", for_: timedelta | None = None
) -> Response:
    call.check_form(form_token)
    with call.web.connection() as conn:
        row = _alarm(conn, call, id)
    act.answer(call, row, name, note, for_)
    return go(f"/alarms/{row.id}")


def _alarm(conn: Connection, call: Call, id: str) -> AlarmRow:
    row = pages.alarm(conn, uuid(id, N_("alarm")), call.facility_ids)
    if row is None:
        raise not_found(N_("alarm"))
    return row


def _figure(conn: Connection, call: Call, row: AlarmRow, state: RoomState) -> Figure:
    """Tension or level around the moment an alarm was raised."""
    end = pages.bucket_end(min(row.raised_at + _AFTER, call.now), _EVERY)
    shown = Window(end - _BEFORE - _AFTER, end, _EVERY)
    only = row.subject_id if row.subject_type in ("container", "reservoir") else None
    means = pages.means(conn, channel_ids(state, only), shown.start, shown.end, shown.every)
    mark = [Marked(row.raised_at, "alarm", "raised", "", row.priority)]
    for reservoir in state.reservoirs:
        if reservoir.row.id == row.subject_id:
            return level_figure(state, reservoir, shown, means, mark)
    return tension_figure(state, shown, means, mark, only)

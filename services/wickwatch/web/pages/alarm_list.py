"""The list of alarms, and acknowledging several of them at once. Not here: one alarm (`alarms`)."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Form, Query, Request, Response

from wickwatch.alarms import said
from wickwatch.errors import RefusedError
from wickwatch.fleet import KINDS
from wickwatch.store import dead_letters, pages
from wickwatch.store.connect import Connection
from wickwatch.store.pages import AlarmRow, Cursor
from wickwatch.web import act, live
from wickwatch.web.access import Call, FormToken, PageCall
from wickwatch.web.api.fields import cursor_moment, cursor_uuid, pack, unpack, uuid
from wickwatch.web.pages.show import alive, part, show
from wickwatch.web.problems import ProblemError
from wickwatch.web.views import alarm_list as view
from wickwatch.web.views import words
from wickwatch.web.views.state import urgency
from wickwatch.web.views.trouble import trouble

router = APIRouter()

#: Alarms of the history on one page; open ones on one page, which flood control keeps few.
_PAGE = 50
_MOST_OPEN = 200

#: Alarms answered by one form at most.
_MOST_AT_ONCE = 200

#: Calls that did not arrive are told of on the list for this long.
_UNDELIVERED_SINCE = timedelta(days=7)


def asked(
    call: PageCall,
    show_what: Annotated[str, Query(alias="show", max_length=20)] = "active",
    facility: Annotated[str, Query(max_length=63)] = "",
    kind: Annotated[str, Query(max_length=40)] = "",
    priority: Annotated[str, Query(max_length=10)] = "",
    text: Annotated[str, Query(max_length=100)] = "",
) -> view.Asked:
    """What is asked for; what nobody knows is taken as not asked."""
    known = {each.slug for each in call.facilities.values()}
    return view.Asked(
        show_what if show_what in view.SHOWS else "active",
        facility if facility in known else "",
        kind if kind in KINDS else "",
        priority if priority in words.PRIORITIES else "",
        " ".join(text.replace("\0", "").split()),
    )


Wanted = Annotated[view.Asked, Depends(asked)]


@router.get("/alarms")
def list_page(
    request: Request,
    call: PageCall,
    wanted: Wanted,
    cursor: Annotated[str, Query(max_length=200)] = "",
    part_of: Annotated[str, Query(alias="part", max_length=10)] = "",
) -> Response:
    """Alarms that are open, the most urgent first; or those that are over, newest first."""
    return _page(request, call, wanted, cursor, only_part=part_of == "list")


@router.post("/alarms")
def acknowledge(
    request: Request,
    call: PageCall,
    wanted: Wanted,
    alarm: Annotated[list[str], Form(max_length=_MOST_AT_ONCE)] = [],  # noqa: B006 -- never changed
    note: Annotated[str, Form(max_length=500)] = "",
    form_token: FormToken = "",
) -> Response:
    """Say "mine" to several alarms; the list then tells which could not be."""
    call.check_form(form_token)
    done, refused = 0, []
    for id in dict.fromkeys(alarm):
        row = None
        try:
            with call.web.connection() as conn:
                row = pages.alarm(conn, uuid(id, "alarm"), call.facility_ids)
            if row is None:
                refused.append((id, "there is no such alarm"))
                continue
            if row.state not in view.ANSWERABLE:
                refused.append((said(row), trouble(row, ZoneInfo(row.zone), call.now).answer))
                continue
            act.answer(call, row, "acknowledge", note)
            done += 1
        except (RefusedError, ProblemError) as error:
            refused.append((said(row) if row else id, str(error)))
    return _page(request, call, wanted, "", view.Result(done, tuple(refused)))


def _page(
    request: Request,
    call: Call,
    wanted: view.Asked,
    cursor: str,
    result: view.Result | None = None,
    *,
    only_part: bool = False,
) -> Response:
    facilities = list(call.facilities.values())
    with call.web.connection() as conn:
        rows, following, more = _rows(conn, call, wanted, cursor)
        counts = pages.open_by_state(conn, call.facility_ids)
        banners = alive(conn, call)
        version = live.version(pages.stamp(conn, call.facility_ids, call.now), {}, banners)
        undelivered = dead_letters.count(
            conn, call.where("see undelivered calls"), call.person_id, call.now - _UNDELIVERED_SINCE
        )
    made = view.list_page(rows, wanted, counts, following, more, facilities, banners, call.now, result)
    if only_part:
        return part(request, call, "alarms_part.html", made)
    return show(
        request,
        call,
        "alarms.html",
        made,
        undelivered=undelivered,
        kinds=words.KINDS,
        ranks=words.PRIORITIES,
        version=version,
        live="" if cursor else f"/alarms?{wanted.query()}&part=list",  # what is further back in history stays
    )


def _rows(conn: Connection, call: Call, wanted: view.Asked, cursor: str) -> tuple[Sequence[AlarmRow], str | None, int]:
    """Alarms of one part of the list, where the history goes on, and how many more are open than are shown."""
    states = view.SHOWS[wanted.show]
    after = None
    if cursor and states is None:
        at, id = unpack(cursor, 2)
        after = Cursor(cursor_moment(at, cursor), cursor_uuid(id, cursor))
    ids = [each.id for each in call.facilities.values() if wanted.facility in ("", each.slug)]
    rows = pages.alarms(
        conn,
        ids,
        _PAGE + 1 if states is None else 10 * _MOST_OPEN,
        active=states is not None,
        states=states,
        kind=wanted.kind or None,
        priority=wanted.priority or None,
        text=wanted.text or None,
        after=after,
    )
    if states is not None:
        return sorted(rows, key=urgency)[:_MOST_OPEN], None, max(len(rows) - _MOST_OPEN, 0)
    last = rows[_PAGE - 1] if len(rows) > _PAGE else None
    return rows[:_PAGE], pack(last.raised_at.isoformat(), str(last.id)) if last else None, 0

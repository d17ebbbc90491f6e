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
from wickwatch.texts import N_, PLAIN, spoken
from wickwatch.web import act, live
from wickwatch.web.access import Call, FormToken, PageCall
from wickwatch.web.api.fields import cursor_moment, cursor_uuid, pack, unpack, uuid
from wickwatch.web.pages.show import alive, part, show
from wickwatch.web.problems import ProblemError, not_found
from wickwatch.web.views import alarm_list as view
from wickwatch.web.views import words
from wickwatch.web.views.state import urgency
from wickwatch.web.views.trouble import trouble
from wickwatch.web.views.watching import Banner

router = APIRouter()

#: Alarms of the history on one page; open ones on one page, which flood control keeps few.
_PAGE = 50
_MOST_OPEN = 200

#: Alarms looked through at once: open ones, or those of the history for a text that is not stored as it is read.
_LOOKED_THROUGH = 2000

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
                row = pages.alarm(conn, uuid(id, N_("alarm")), call.facility_ids)
            if row is None:
                raise not_found(N_("alarm"))
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
        version, undelivered = ("", 0) if only_part else _of_whole(conn, call, banners)
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


def _of_whole(conn: Connection, call: Call, banners: Sequence[Banner]) -> tuple[str, int]:
    """What the whole page has beside its list: its version, and how many calls did not arrive lately."""
    version = live.version(pages.stamp(conn, call.facility_ids, call.now), {}, banners)
    since = call.now - _UNDELIVERED_SINCE
    return version, dead_letters.count(conn, call.where("see undelivered calls"), call.person_id, since)


def _rows(conn: Connection, call: Call, wanted: view.Asked, cursor: str) -> tuple[Sequence[AlarmRow], str | None, int]:
    """Alarms of one part of the list, where the history goes on, and how many more are open than are shown."""
    states = view.SHOWS[wanted.show]
    after = None
    if cursor and states is None:
        at, id = unpack(cursor, 2)
        after = Cursor(cursor_moment(at, cursor), cursor_uuid(id, cursor))
    # What a reader of another language or of other units sees is not what is stored, so it is looked for here.
    said_anew = bool(wanted.text) and spoken() != PLAIN
    most = _LOOKED_THROUGH if said_anew or states is not None else _PAGE + 1
    rows = pages.alarms(
        conn,
        [each.id for each in call.facilities.values() if wanted.facility in ("", each.slug)],
        most,
        active=states is not None,
        states=states,
        kind=wanted.kind or None,
        priority=wanted.priority or None,
        text=None if said_anew else wanted.text or None,
        after=after,
    )
    found = [row for row in rows if view.says(row, wanted.text)] if said_anew else rows
    if states is not None:
        return sorted(found, key=urgency)[:_MOST_OPEN], None, max(len(found) - _MOST_OPEN, 0)
    shown = found[:_PAGE]
    last = shown[-1] if len(found) > _PAGE else rows[-1] if len(rows) == most else None
    return shown, pack(last.raised_at.isoformat(), str(last.id)) if last else None, 0

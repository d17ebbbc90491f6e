"""One work entry: its page, and correcting or withdrawing it."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request, Response

from wickwatch.store import pages
from wickwatch.store import work as stored
from wickwatch.store.connect import Connection
from wickwatch.texts import N_
from wickwatch.web import act
from wickwatch.web.access import Call, FormToken, PageCall
from wickwatch.web.api.fields import uuid
from wickwatch.web.pages.show import alive, go, show
from wickwatch.web.problems import not_found
from wickwatch.web.room import room_state
from wickwatch.web.views.entry import entry_page

router = APIRouter()


@router.get("/work/{id}")
def page(request: Request, call: PageCall, id: str) -> Response:
    """What it says, and a form that corrects it."""
    with call.web.connection() as conn:
        found = _entry(conn, call, id)
        entry, facility = found.entry, call.facilities[found.facility_id]
        state = room_state(conn, call, facility.id, entry.room_id)
        subject = pages.subject(conn, entry.subject_type, entry.subject_id, call.facility_ids)
        name = subject.name if subject else entry.subject_type
        made = entry_page(entry, name, found.corrected, facility, state, alive(conn, call), call.now)
    return show(request, call, "work.html", made)


@router.post("/work/{id}/correct")
def correct(
    call: PageCall, id: str, form: Annotated[act.WorkFields, Depends()], form_token: FormToken = ""
) -> Response:
    """Record other work in place of an entry."""
    call.check_form(form_token)
    with call.web.connection() as conn:
        found = _entry(conn, call, id)
        act.record_from_form(conn, call, found.facility_id, form, found.entry.alarm_id, found.entry.id)
    return _back(found)


@router.post("/work/{id}/withdraw")
def withdraw(call: PageCall, id: str, form_token: FormToken = "") -> Response:
    """Say that the work of an entry was not done."""
    call.check_form(form_token)
    with call.web.connection() as conn:
        found = _entry(conn, call, id)
        act.withdraw(conn, call, found.facility_id, found.entry.id)
    return _back(found)


def _entry(conn: Connection, call: Call, id: str) -> stored.Kept:
    found = stored.kept(conn, uuid(id, N_("work entry")), call.facility_ids)
    if found is None:
        raise not_found(N_("work entry"))
    return found


def _back(found: stored.Kept) -> Response:
    entry = found.entry
    return go(f"/rooms/{entry.room_id}#work" if entry.room_id else "/")

"""Answering an alarm by the link in a notice, without signing in: see it, say "mine", set it aside, record the work.

GET and HEAD change nothing, so that scanners and previews that open a link do no harm; what changes something is a
POST with a token that only the page itself holds. Not here: whose link it is (`web.letter`).
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Form, Request, Response
from fastapi.responses import RedirectResponse

from wickwatch.errors import InputError, RefusedError
from wickwatch.texts import _
from wickwatch.web import act
from wickwatch.web.access import FormToken
from wickwatch.web.letter import ByLink, Letter
from wickwatch.web.pages.alarms import load
from wickwatch.web.room import room_state
from wickwatch.web.templates import html
from wickwatch.web.views.times import moment
from wickwatch.web.views.work import form_of_alarm

router = APIRouter()

Note = Annotated[str, Form(max_length=500)]


@router.api_route("/a/{token}", methods=["GET", "HEAD"])
def page(request: Request, letter: ByLink) -> Response:
    """The alarm."""
    return _page(request, letter)


@router.post("/a/{token}/mine")
def mine(request: Request, letter: ByLink, form_token: FormToken = "") -> Response:
    """Say "mine" to an alarm."""
    return _do(request, letter, form_token, lambda: _answer(letter, "acknowledge"))


@router.post("/a/{token}/shelve")
def shelve(
    request: Request,
    letter: ByLink,
    hours: Annotated[int, Form(ge=1, le=24)] = 4,
    note: Note = "",
    form_token: FormToken = "",
) -> Response:
    """Take an alarm out of sight for some hours."""
    return _do(request, letter, form_token, lambda: _answer(letter, "shelve", note, timedelta(hours=hours)))


@router.post("/a/{token}/unshelve")
def unshelve(request: Request, letter: ByLink, form_token: FormToken = "") -> Response:
    """Bring a shelved alarm back."""
    return _do(request, letter, form_token, lambda: _answer(letter, "unshelve"))


@router.post("/a/{token}/work")
def work(
    request: Request, letter: ByLink, form: Annotated[act.WorkFields, Depends()], form_token: FormToken = ""
) -> Response:
    """Record what was done about an alarm.

    Only what the page offers: the link is good for nothing else in the facility.
    """

    def record() -> None:
        with letter.call.web.connection() as conn:
            state = room_state(conn, letter.call, letter.alarm.facility_id, letter.alarm.room_id)
            offered = form_of_alarm(letter.alarm, state, letter.call.now).kinds
            if form.subject or form.kind not in {one.value for _, listed in offered for one in listed}:
                raise InputError(_("what was done"), form.kind, _("one of the list"))
            act.record_from_form(conn, letter.call, letter.alarm.facility_id, form, letter.alarm.id)

    return _do(request, letter, form_token, record)


def _answer(letter: Letter, name: act.ActName, note: str = "", for_: timedelta | None = None) -> None:
    act.answer(letter.call, letter.alarm, name, note, for_)


def _do(request: Request, letter: Letter, form_token: str, change: Callable[[], None]) -> Response:
    """Change something and show the alarm again; what can't be done is said on its page, since there is no other."""
    letter.call.check_form(form_token)
    try:
        change()
    except RefusedError as error:
        return _page(request, letter, str(error), 409)
    except InputError as error:
        return _page(request, letter, str(error), 422)
    return RedirectResponse(letter.path, 303)


def _page(request: Request, letter: Letter, error: str = "", status: int = 200) -> Response:
    call = letter.call
    with call.web.connection() as conn:
        made = load(conn, call, letter.alarm)
    values = {
        "page": made,
        "person": call.name,
        "until": moment(letter.until, ZoneInfo(letter.alarm.zone), call.now),
        "link": letter.path,
        "form_token": call.form_token(),
        "error": error,
        "visitor": "",
        "path": "",
    }
    return html(request, call.web.templates.render("answer.html", values), status)

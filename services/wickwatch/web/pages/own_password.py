"""Choosing one's own password by a link that was handed over, and being signed in by it.

Opening the link changes nothing, so that previews do no harm. Not here: what such a link is (`web.own_password`), or
replacing a password that one knows (`me`).
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from wickwatch import log
from wickwatch.errors import InputError
from wickwatch.store import access, people, readers
from wickwatch.store.connect import Connection
from wickwatch.texts import _, speak
from wickwatch.web import known, own_password
from wickwatch.web.access import Call, FormToken, address, context, cookie_name, device_of, keep_session, writing
from wickwatch.web.context import Context
from wickwatch.web.pages.show import go
from wickwatch.web.problems import ProblemError
from wickwatch.web.templates import html

router = APIRouter()


@router.get("/password/{token}")
def page(request: Request, token: str) -> Response:
    """The form."""
    web = context(request)
    with web.connection() as conn:
        call = _call(conn, web, token)
    return _page(request, call)


@router.post("/password/{token}")
def choose(
    request: Request,
    token: str,
    wanted: Annotated[str, Form(max_length=1000)] = "",
    form_token: FormToken = "",
) -> Response:
    """Choose one's own password; every earlier session ends."""
    with context(request).connection() as conn:
        call = _call(conn, context(request), token)
    call.check_form(form_token)
    web = writing(request, "page", access.Holder(call.person_id, call.name))
    former = request.cookies.get(cookie_name(web))
    try:
        with web.connection() as conn:
            _call(conn, web, token)  # once more, and held: of two who use it at once the second is too late
            people.set_password(conn, call.name, wanted)
            session = access.open_session(conn, call.person_id, address(request), call.now, former, device_of(request))
    except InputError as error:
        return _page(request, call, str(error), 422)
    log.event("password.chosen", person=call.name, address=address(request))
    answer = go("/me")
    keep_session(answer, web, session)
    known.remember(answer, web, call.name)
    return answer


def _call(conn: Connection, web: Context, token: str) -> Call:
    """Whoever holds a link; 404 where it does not hold. Forms are bound to it as they are to a session elsewhere."""
    now = web.clock()
    found = own_password.holder(conn, web.settings.secret_key, token, now)
    if found is None:
        raise ProblemError(404, _("This link was used, replaced, or is older than a week: ask for another"))
    speak(readers.of_person(conn, found.person_id))
    return Call(web, found.person_id, found.name, {}, f"password {token}", now)


def _page(request: Request, call: Call, error: str = "", status: int = 200) -> Response:
    values = {
        "name": call.name,
        "error": error,
        "form_token": call.form_token(),
        "visitor": "",
        "path": request.url.path,
    }
    return html(request, call.web.templates.render("own_password.html", values), status)

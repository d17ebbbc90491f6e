"""Signing in and out. Not here: what a session is (`store.access`)."""

from __future__ import annotations

import math
from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request, Response
from fastapi.responses import RedirectResponse

from wickwatch import log
from wickwatch.store import access as stored
from wickwatch.store import people
from wickwatch.web.access import COOKIE, FormToken, PageCall, address, check_origin, context
from wickwatch.web.pages.show import go, local
from wickwatch.web.templates import html

router = APIRouter()

_WRONG = "Name or password is not right."


@router.get("/sign-in", name="sign_in")
def form(request: Request, next: Annotated[str, Query(max_length=500)] = "/") -> Response:
    """The form."""
    return _form(request, local(next))


@router.post("/sign-in")
def submit(
    request: Request,
    name: Annotated[str, Form(max_length=200)] = "",
    password: Annotated[str, Form(max_length=1000)] = "",
    next: Annotated[str, Form(max_length=500)] = "/",
) -> Response:
    """Look at name and password; lead to the page that was asked for, or back to the form."""
    check_origin(request)
    web = context(request)
    now = web.clock()
    source = address(request)
    name = name.replace("\0", "")
    with web.connection() as conn:
        wait = stored.count_try(conn, name, source, now)
    if wait is not None:
        log.warning("sign_in.held", name=name[:100], address=source)
        minutes = math.ceil(wait / timedelta(minutes=1))
        headers = {"Retry-After": str(math.ceil(wait.total_seconds()))}
        return _form(request, local(next), f"Too many tries. Try again in {minutes} min.", name, 429, headers)
    with web.connection() as conn:
        person_id = people.password_fits(conn, name, password)
        secret = None
        if person_id is not None:
            secret = stored.open_session(conn, person_id, name, source, now, request.cookies.get(COOKIE))
    if secret is None:
        log.warning("sign_in.refused", name=name[:100], address=source)
        return _form(request, local(next), _WRONG, name, 401)
    log.event("sign_in.done", name=name[:100], address=source)
    answer = RedirectResponse(local(next), 303)
    answer.set_cookie(
        COOKIE,
        secret,
        max_age=int(stored.SESSION_MOST.total_seconds()),
        httponly=True,
        secure=web.secure,
        samesite="lax",
    )
    return answer


@router.post("/sign-out")
def sign_out(call: PageCall, form_token: FormToken = "") -> Response:
    """End the session, here and in the database."""
    call.check_form(form_token)
    with call.web.connection() as conn:
        stored.end_session(conn, call.session or "")
    answer = go("/sign-in")
    answer.delete_cookie(COOKIE)
    return answer


def _form(
    request: Request,
    next: str,
    error: str = "",
    name: str = "",
    status: int = 200,
    headers: dict[str, str] | None = None,
) -> Response:
    values = {"next": next, "error": error, "name": name, "visitor": "", "path": request.url.path}
    return html(request, context(request).templates.render("sign_in.html", values), status, headers)

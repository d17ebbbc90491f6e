"""Signing in and out. Not here: what a session is (`store.access`)."""

from __future__ import annotations

import math
from datetime import timedelta
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Form, Query, Request, Response
from fastapi.responses import RedirectResponse

from wickwatch import log
from wickwatch.store import access as stored
from wickwatch.store import people, tries
from wickwatch.texts import N_, _
from wickwatch.web import known, openid
from wickwatch.web.access import (
    FormToken,
    PageCall,
    address,
    check_origin,
    context,
    cookie_name,
    device_of,
    drop_session,
    keep_session,
    writing,
)
from wickwatch.web.pages.show import go, local
from wickwatch.web.templates import html

router = APIRouter()

_WRONG = N_("Name or password is not right.")


@router.get("/sign-in", name="sign_in")
def form(request: Request, next: Annotated[str, Query(max_length=500)] = "/") -> Response:
    """The form."""
    return form_page(request, local(next))


@router.post("/sign-in")
def submit(
    request: Request,
    name: Annotated[str, Form(max_length=200)] = "",
    password: Annotated[str, Form(max_length=1000)] = "",
    next: Annotated[str, Form(max_length=500)] = "/",
) -> Response:
    """Sign in by name and password.

    Leads to the page that was asked for, or back to the form.
    """
    check_origin(request)
    web = context(request)
    now = web.clock()
    source = address(request)
    name = " ".join(name.replace("\0", "").split())
    note = known.note_of(request, web, name)
    with web.connection() as conn:
        wait = tries.count_try(conn, name, source, now, note)
    if wait is not None:
        log.warning("sign_in.held", name=name[:100], address=source)
        minutes = math.ceil(wait / timedelta(minutes=1))
        headers = {"Retry-After": str(math.ceil(wait.total_seconds()))}
        return form_page(
            request, local(next), _("Too many tries. Try again in %(num)s min.", num=minutes), name, 429, headers
        )
    with web.connection() as conn:
        person_id = people.password_fits(conn, name, password)
    if person_id is None:
        log.warning("sign_in.refused", name=name[:100], address=source)
        return form_page(request, local(next), _(_WRONG), name, 401)
    with web.connection() as conn:
        tries.forget_tries(conn, name, source, note)
    answer = welcome(request, person_id, name, local(next))
    known.remember(answer, web, name)
    return answer


@router.post("/sign-out")
def sign_out(call: PageCall, form_token: FormToken = "") -> Response:
    """End the session, here and in the database."""
    call.check_form(form_token)
    with call.web.connection() as conn:
        stored.end_session(conn, call.session or "")
    answer = go("/sign-in")
    drop_session(answer, call.web)
    return answer


def welcome(request: Request, person_id: UUID, name: str, path: str) -> Response:
    """Open a session for somebody who proved to be this person, in place of any before, and lead to a page."""
    web = writing(request, "page", stored.Holder(person_id, name))
    former = request.cookies.get(cookie_name(web))
    with web.connection() as conn:
        secret = stored.open_session(conn, person_id, address(request), web.clock(), former, device_of(request))
    log.event("sign_in.done", name=name[:100], address=address(request))
    answer = RedirectResponse(path, 303)
    keep_session(answer, web, secret)
    return answer


def form_page(
    request: Request,
    next: str,
    error: str = "",
    name: str = "",
    status: int = 200,
    headers: dict[str, str] | None = None,
) -> Response:
    """The form, and what was wrong."""
    provider = openid.provider(context(request).settings)
    values = {
        "next": next,
        "error": error,
        "name": name,
        "provider": provider.host if provider else "",
        "visitor": "",
        "path": request.url.path,
    }
    return html(request, context(request).templates.render("sign_in.html", values), status, headers)

"""A person's own page: their roles, how they are reached, password, and tokens for programs."""

from __future__ import annotations

from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Form, Request, Response

from wickwatch import log
from wickwatch.errors import InputError
from wickwatch.store import access as stored
from wickwatch.store import people
from wickwatch.web import reach
from wickwatch.web.access import COOKIE, Call, FormToken, PageCall, address
from wickwatch.web.api.fields import uuid
from wickwatch.web.pages.show import alive, go, show
from wickwatch.web.problems import not_found
from wickwatch.web.views import me as view

router = APIRouter()


@router.get("/me")
def page(request: Request, call: PageCall) -> Response:
    """Roles, contacts, tokens, password."""
    return page_of(request, call)


@router.post("/me/tokens")
def add(
    request: Request, call: PageCall, label: Annotated[str, Form(max_length=200)], form_token: FormToken = ""
) -> Response:
    """Make a token and show it, this once."""
    call.check_form(form_token)
    try:
        with call.web.connection() as conn:
            secret = stored.new_token(conn, call.name, label)
    except InputError as error:
        return page_of(request, call, error=str(error))
    log.event("token.made", person=call.name, label=label[:100])
    return page_of(request, call, secret=secret)


@router.post("/me/tokens/{id}/revoke")
def revoke(call: PageCall, id: str, form_token: FormToken = "") -> Response:
    """End a token."""
    call.check_form(form_token)
    with call.web.connection() as conn:
        if not stored.revoke_token(conn, call.person_id, uuid(id, "token"), call.now):
            raise not_found("token")
    return go("/me")


@router.post("/me/password")
def password(
    request: Request,
    call: PageCall,
    former: Annotated[str, Form(max_length=1000)],
    wanted: Annotated[str, Form(max_length=1000)],
    form_token: FormToken = "",
) -> Response:
    """Replace the password; every other session ends and this one is renewed."""
    call.check_form(form_token)
    with call.web.connection() as conn:
        wait = stored.count_try(conn, call.name, address(request), call.now)
    try:
        with call.web.connection() as conn:
            if wait is not None or people.password_fits(conn, call.name, former) != call.person_id:
                return page_of(request, call, error="The password you have now is not right.")
            people.set_password(conn, call.name, wanted)
            secret = stored.open_session(conn, call.person_id, call.name, address(request), call.now, call.session)
    except InputError as error:
        return page_of(request, call, error=str(error))
    answer = go("/me")
    answer.set_cookie(
        COOKIE,
        secret,
        max_age=int(stored.SESSION_MOST.total_seconds()),
        httponly=True,
        secure=call.web.secure,
        samesite="lax",
    )
    return answer


def page_of(
    request: Request, call: Call, secret: str = "", error: str = "", signing: str = "", status: int = 200
) -> Response:
    """The page; `secret` is a token and `signing` a webhook's secret that was just made, each shown this once."""
    facilities = list(call.facilities.values())
    zone = ZoneInfo(facilities[0].zone if facilities else "UTC")
    with call.web.connection() as conn:
        tokens = stored.tokens(conn, call.person_id)
        banners = alive(conn, call)
        contacts = reach.shown(conn, call, zone)
    made = view.page(facilities, tokens, contacts, banners, call.now)
    return show(request, call, "me.html", made, status=status, secret=secret, signing=signing, error=error)

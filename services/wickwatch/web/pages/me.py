"""A person's own page: their roles, how they are reached, password, where they are signed in, tokens for programs."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Form, Request, Response

from wickwatch import log
from wickwatch.errors import InputError
from wickwatch.store import access as stored
from wickwatch.store import people, readers, tokens, tries
from wickwatch.texts import N_, _
from wickwatch.web import reach
from wickwatch.web.access import Call, FormToken, PageCall, address, device_of, drop_session, keep_session
from wickwatch.web.api.fields import uuid
from wickwatch.web.pages.show import alive, go, show
from wickwatch.web.problems import not_found
from wickwatch.web.views import me as view

router = APIRouter()

Choice = Annotated[str, Form(max_length=20)]

#: A token that a person makes ends after so many days at most; commands may make one without an end.
MOST_DAYS = 366


@router.get("/me")
def page(request: Request, call: PageCall) -> Response:
    """Roles, contacts, tokens, sessions, password."""
    return page_of(request, call)


@router.post("/me/reading")
def reading(
    call: PageCall,
    language: Choice = "",
    tension_unit: Choice = "",
    volume_unit: Choice = "",
    clock: Choice = "",
    form_token: FormToken = "",
) -> Response:
    """Choose in what to read; what is left empty is as the facility has it."""
    call.check_form(form_token)
    wanted = readers.Chosen(language or None, tension_unit or None, volume_unit or None, clock or None)
    with call.web.connection() as conn:
        readers.choose(conn, call.person_id, wanted)
    return go("/me#reading")


@router.post("/me/tokens")
def add(
    request: Request,
    call: PageCall,
    label: Annotated[str, Form(max_length=200)],
    scope: Annotated[str, Form(max_length=10)] = "read",
    days: Annotated[int, Form(ge=1, le=MOST_DAYS)] = 90,
    form_token: FormToken = "",
) -> Response:
    """Make a token and show it, this once."""
    call.check_form(form_token)
    try:
        with call.web.connection() as conn:
            secret = tokens.new_token(conn, call.name, label, call.now + timedelta(days=days), scope)
    except InputError as error:
        return page_of(request, call, error=str(error), status=422)
    log.event("token.made", person=call.name, label=label[:100], scope=scope)
    return page_of(request, call, secret=secret)


@router.post("/me/tokens/{id}/revoke")
def revoke(call: PageCall, id: str, form_token: FormToken = "") -> Response:
    """End a token."""
    call.check_form(form_token)
    with call.web.connection() as conn:
        if not tokens.revoke_token(conn, call.person_id, uuid(id, N_("token")), call.now):
            raise not_found(N_("token"))
    return go("/me#tokens")


@router.post("/me/sessions/end")
def end_all(call: PageCall, form_token: FormToken = "") -> Response:
    """Sign out everywhere, here too."""
    call.check_form(form_token)
    with call.web.connection() as conn:
        stored.end_sessions(conn, call.person_id)
    log.event("sign_in.ended", person=call.name)
    answer = go("/sign-in")
    drop_session(answer, call.web)
    return answer


@router.post("/me/sessions/{id}/end")
def end_one(call: PageCall, id: str, form_token: FormToken = "") -> Response:
    """Sign out on another device."""
    call.check_form(form_token)
    with call.web.connection() as conn:
        if not stored.end_sessions(conn, call.person_id, uuid(id, N_("session"))):
            raise not_found(N_("session"))
    return go("/me#sessions")


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
    source = address(request)
    with call.web.connection() as conn:
        wait = tries.count_try(conn, call.name, source, call.now)
    try:
        with call.web.connection() as conn:
            if wait is not None or people.password_fits(conn, call.name, former) != call.person_id:
                return page_of(request, call, error=_("The password you have now is not right."), status=422)
            tries.forget_tries(conn, call.name, source)
            people.set_password(conn, call.name, wanted)
            secret = stored.open_session(conn, call.person_id, source, call.now, call.session, device_of(request))
    except InputError as error:
        return page_of(request, call, error=str(error), status=422)
    answer = go("/me")
    keep_session(answer, call.web, secret)
    return answer


def page_of(
    request: Request, call: Call, secret: str = "", error: str = "", signing: str = "", status: int = 200
) -> Response:
    """The page; `secret` is a token and `signing` a webhook's secret that was just made, each shown this once."""
    facilities = list(call.facilities.values())
    zone = ZoneInfo(facilities[0].zone if facilities else "UTC")
    with call.web.connection() as conn:
        known = tokens.tokens(conn, call.person_id)
        sessions = stored.sessions(conn, call.person_id, call.session, call.now)
        banners = alive(conn, call)
        contacts = reach.shown(conn, call, zone)
        chosen = readers.chosen(conn, call.person_id)
    made = view.page(facilities, known, sessions, contacts, chosen, banners, call.now)
    return show(request, call, "me.html", made, status=status, secret=secret, signing=signing, error=error)

"""Signing in by a provider that knows the person: to it, and back from it.

Whoever comes back must be somebody who was added here and whose mail address the provider has verified; nobody is
added. Not here: the protocol (`web.openid`).
"""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import RedirectResponse

from wickwatch import log
from wickwatch.errors import RefusedError, UnavailableError
from wickwatch.store import people
from wickwatch.texts import N_, _, capital
from wickwatch.web import openid
from wickwatch.web.access import address, context
from wickwatch.web.context import Context
from wickwatch.web.openid import Provider
from wickwatch.web.pages.show import local
from wickwatch.web.pages.sign_in import form_page, welcome
from wickwatch.web.problems import not_found

router: APIRouter = APIRouter()

_COOKIE = "wickwatch_openid"
_PATH = "/sign-in/openid"

#: The provider's page may stay open this long.
_LASTS = timedelta(minutes=10)

Text = Annotated[str, Query(max_length=4000)]


@router.get(_PATH)
def start(request: Request, next: Annotated[str, Query(max_length=500)] = "/") -> Response:
    """Lead to the provider."""
    web, provider = _provider(request)
    try:
        asked = openid.ask(provider, local(next), web.clock() + _LASTS)
    except UnavailableError as error:
        return form_page(request, local(next), _sentence(error), status=503)
    answer = RedirectResponse(asked.url, 303)
    answer.set_cookie(
        _COOKIE,
        openid.sealed(web.settings.secret_key, asked),
        max_age=int(_LASTS.total_seconds()),
        path=_PATH,
        httponly=True,
        secure=web.secure,
        samesite="lax",  # the provider leads back here from its own site
    )
    return answer


@router.get(f"{_PATH}/back")
def back(request: Request, code: Text = "", state: Text = "", iss: Text = "", error: Text = "") -> Response:
    """Come back from the provider, and be signed in if somebody here is meant."""
    web, provider = _provider(request)
    asked = openid.opened(web.settings.secret_key, request.cookies.get(_COOKIE, ""), web.clock())
    try:
        if asked is None:
            raise RefusedError(_("this took too long, or began in another browser; try again"))
        who = openid.verified_address(provider, asked, openid.Answer(code, state, iss, error), web.clock())
        with web.connection() as conn:
            found = people.by_sign_in_address(conn, who)
        if found is None:
            raise RefusedError(_("nobody here signs in by the mail address that the provider has for you"))
    except (RefusedError, UnavailableError) as refused:
        log.warning("sign_in.refused", provider=provider.issuer, address=address(request), why=str(refused))
        status = 503 if isinstance(refused, UnavailableError) else 403
        answer = form_page(request, asked.next if asked else "/", _sentence(refused), status=status)
    else:
        answer = welcome(request, *found, local(asked.next))
    answer.delete_cookie(_COOKIE, path=_PATH, httponly=True, secure=web.secure, samesite="lax")
    return answer


def _sentence(error: Exception) -> str:
    said = str(error)
    return f"{capital(said)}."


def _provider(request: Request) -> tuple[Context, Provider]:
    web = context(request)
    provider = openid.provider(web.settings)
    if provider is None:
        raise not_found(N_("page"))
    return web, provider

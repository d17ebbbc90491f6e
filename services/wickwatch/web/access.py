"""Who is asking, what they may see and do, and whether their browser was made to ask.

A caller is known by a session cookie or a bearer token. What is unsafe and comes with a cookie is only taken from our
own pages: the browser says so in Sec-Fetch-Site or Origin, and forms carry a token made from the session (OWASP,
Cross-Site Request Forgery Prevention Cheat Sheet). Not here: which role may do what (`web.permits`), passwords, or how
sessions are kept (`store`).
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import Annotated, cast
from urllib.parse import urlsplit
from uuid import UUID

from fastapi import Depends, Form, Request, Response

from wickwatch.store import access as stored
from wickwatch.store import people, readers, tokens
from wickwatch.store.access import Scope
from wickwatch.store.audit import Via, author
from wickwatch.store.people import Visible
from wickwatch.texts import N_, _, speak
from wickwatch.web.context import Context
from wickwatch.web.permits import PERMITS, Deed, allowed, door, within
from wickwatch.web.problems import ProblemError, SignInNeededError, for_programs, not_found
from wickwatch.web.views import words

_SAFE = ("GET", "HEAD", "OPTIONS")

_UNKNOWN = N_("sign in, or give a token that holds")


@dataclass(frozen=True)
class Call:
    """One request by somebody who is known.

    `session` is what the forms of a page are bound to: the session's secret, or a signed link; None where a token was
    given. `scope` is that token's, None for everybody else.
    """

    web: Context
    person_id: UUID
    name: str
    facilities: Mapping[UUID, Visible]
    session: str | None
    now: datetime
    scope: Scope | None = None

    @property
    def facility_ids(self) -> list[UUID]:
        """Ids of all facilities that may be seen."""
        return list(self.facilities)

    def facility(self, slug: str) -> Visible:
        """A facility by its slug; 404 where it may not be seen."""
        for visible in self.facilities.values():
            if visible.slug == slug:
                return visible
        raise not_found(N_("facility"))

    def may(self, facility_id: UUID, deed: Deed) -> bool:
        """Whether the caller may do something in a facility."""
        visible = self.facilities.get(facility_id)
        return visible is not None and allowed(visible, deed) and within(self.scope, deed)

    def require(self, facility_id: UUID, deed: Deed) -> Visible:
        """The facility, if the caller may do this there; 404 where it may not be seen, else 403."""
        visible = self.facilities.get(facility_id)
        if visible is None:
            raise not_found(N_("thing"))
        self.check_scope(deed)
        if not allowed(visible, deed):
            needed = PERMITS[deed].role
            raise ProblemError(
                403,
                _(
                    "this needs the role %(needed)s in %(facility)s; yours is %(role)s",
                    needed=words.ROLES[needed or "viewer"],
                    facility=visible.name,
                    role=words.ROLES[visible.role],
                ),
            )
        return visible

    def where(self, deed: Deed) -> list[UUID]:
        """Ids of the facilities in which the caller may do this."""
        return [id for id in self.facilities if self.may(id, deed)]

    def require_somewhere(self, deed: Deed) -> list[UUID]:
        """The same; 403 where that is none."""
        self.check_scope(deed)
        found = self.where(deed)
        if not found:
            raise ProblemError(
                403, _("this needs the role %(needed)s", needed=words.ROLES[PERMITS[deed].role or "viewer"])
            )
        return found

    def check_scope(self, deed: Deed) -> None:
        """Raise 403 where the caller came with a token that is not for this."""
        if not within(self.scope, deed):
            raise ProblemError(
                403,
                _(
                    "this needs a token of scope %(scope)s; yours is %(yours)s",
                    scope=PERMITS[deed].scope,
                    yours=self.scope,
                ),
            )

    def form_token(self) -> str:
        """What a form on this page must carry; masked anew each time, so that compression gives nothing away."""
        if self.session is None:
            return ""
        mask = secrets.token_bytes(32)
        masked = bytes(a ^ b for a, b in zip(mask, _form_key(self.web, self.session), strict=True))
        return mask.hex() + masked.hex()

    def check_form(self, token: object) -> None:
        """Raise 403 unless a form carries the token of this session."""
        try:
            given = bytes.fromhex(str(token))
        except ValueError:
            given = b""
        mask, masked = given[:32], given[32:]
        key = bytes(a ^ b for a, b in zip(mask, masked, strict=False))
        if self.session is None or not hmac.compare_digest(key, _form_key(self.web, self.session)):
            raise ProblemError(403, _("this form is from an earlier sign-in; go back, reload the page and try again"))


def cookie_name(web: Context) -> str:
    """What a session's cookie is called; over TLS browsers take this name from our own host only (RFC 6265bis)."""
    return "__Host-wickwatch_session" if web.secure else "wickwatch_session"


def keep_session(answer: Response, web: Context, secret: str) -> None:
    """Let the browser keep a session: out of reach of scripts, and sent along only when our own pages ask."""
    answer.set_cookie(
        cookie_name(web),
        secret,
        max_age=int(stored.SESSION_MOST.total_seconds()),
        httponly=True,
        secure=web.secure,
        samesite="lax",
    )


def drop_session(answer: Response, web: Context) -> None:
    """Let the browser forget its session."""
    answer.delete_cookie(cookie_name(web), httponly=True, secure=web.secure, samesite="lax")


def context(request: Request) -> Context:
    """What the application was made with."""
    return cast(Context, request.app.state.web)


def api_call(request: Request) -> Call:
    """The caller of the JSON API; 401 where nobody is known."""
    found = _recognise(request)
    if found is None:
        raise ProblemError(401, _(_UNKNOWN), {"WWW-Authenticate": 'Bearer realm="wickwatch"'})
    return found


def page_call(request: Request) -> Call:
    """The visitor of a page; leads to the sign-in where nobody is known."""
    found = _recognise(request)
    if found is None:
        if request.method not in _SAFE:
            raise ProblemError(401, _("your session has ended; sign in and try again"))
        raise SignInNeededError
    return found


def check_origin(request: Request) -> None:
    """Raise 403 where a browser was made to ask by a page of somebody else.

    A program that is no browser sends neither header and brings no cookie of anybody else's.
    """
    site = request.headers.get("sec-fetch-site")
    if site is not None:
        if site not in ("same-origin", "none"):
            raise ProblemError(403, _("this was asked by a page of another site"))
        return
    origin = request.headers.get("origin")
    if origin is not None and urlsplit(origin).netloc != request.headers.get("host"):
        raise ProblemError(403, _("this was asked by a page of another site"))


def address(request: Request) -> str:
    """Where a request comes from, as far as it is known."""
    return request.client.host if request.client else "unknown"


def device_of(request: Request) -> stored.Device:
    """Which kind of device a browser says it is on."""
    return "phone" if "Mobi" in request.headers.get("user-agent", "") else "computer"


def asked_for(request: Request) -> str:
    """The template of the address that was asked for: "/rooms/{id}"."""
    found: str = request.app.state.addresses.get(request.scope.get("endpoint"), "")
    return found


def writing(request: Request, via: Via, holder: stored.Holder) -> Context:
    """The application as it writes for somebody: what this request changes is one entry of the audit log."""
    web = context(request)
    action = f"{request.method} {asked_for(request)}"
    told = (getattr(request.scope.get("endpoint"), "__doc__", None) or action).partition("\n")[0]
    entry = author(web.clock(), holder.name, via, address(request), action, told, holder.person_id)
    return web.writing_for(entry)


def _recognise(request: Request) -> Call | None:
    web = context(request)
    now = web.clock()
    scheme, _, token = request.headers.get("authorization", "").partition(" ")
    session = None if scheme else request.cookies.get(cookie_name(web))
    with web.connection() as conn:
        holder = None
        if scheme.lower() == "bearer" and token.strip():
            holder = tokens.by_token(conn, token.strip(), now)
        elif session:
            holder = stored.by_session(conn, session, now)
        if holder is None:
            return None
        facilities = {visible.id: visible for visible in people.facilities_of(conn, holder.person_id)}
        if not for_programs(request.url.path):
            speak(readers.of_person(conn, holder.person_id))
    if session is not None and request.method not in _SAFE:
        check_origin(request)
    if request.method not in _SAFE:
        web = writing(request, "api" if asked_for(request).startswith("/api/") else "page", holder)
    call = Call(web, holder.person_id, holder.name, facilities, session, now, holder.scope)
    _check_door(call, request)
    return call


def _check_door(call: Call, request: Request) -> None:
    """Raise 403 where what the address stands for is not the caller's anywhere, or not for their token."""
    deed = door(request.method, asked_for(request))
    if deed == "open" or deed == "link" or deed == "secret":  # noqa: PLR1714 -- types are told apart by these
        return
    if PERMITS[deed].role in (None, "viewer"):
        call.check_scope(deed)
    else:
        call.require_somewhere(deed)


def _form_key(web: Context, session: str) -> bytes:
    return hmac.digest(web.settings.secret_key.encode(), b"form " + session.encode(), sha256)


ApiCall = Annotated[Call, Depends(api_call)]
PageCall = Annotated[Call, Depends(page_call)]

#: The hidden field that carries a form's token, for `Call.check_form`.
FormToken = Annotated[str, Form(alias="form_token")]

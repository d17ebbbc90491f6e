"""Who is asking, what they may see and do, and whether their browser was made to ask.

A caller is known by a session cookie or a bearer token. What is unsafe and comes with a cookie is only taken from our
own pages: the browser says so in Sec-Fetch-Site or Origin, and forms carry a token made from the session (OWASP,
Cross-Site Request Forgery Prevention Cheat Sheet). Not here: passwords, or how sessions are kept (`store`).
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

from fastapi import Depends, Form, Request

from wickwatch.store import access as stored
from wickwatch.store import people
from wickwatch.store.people import Role, Visible
from wickwatch.web.context import Context
from wickwatch.web.problems import ProblemError, SignInNeededError, not_found

COOKIE = "wickwatch_session"

_SAFE = ("GET", "HEAD", "OPTIONS")

_UNKNOWN = "sign in, or give a token that holds"


@dataclass(frozen=True)
class Call:
    """One request by somebody who is known.

    `session` is what the forms of a page are bound to: the session's secret, or a signed link; None where a token was
    given.
    """

    web: Context
    person_id: UUID
    name: str
    facilities: Mapping[UUID, Visible]
    session: str | None
    now: datetime

    @property
    def facility_ids(self) -> list[UUID]:
        """Ids of all facilities that may be seen."""
        return list(self.facilities)

    def facility(self, slug: str) -> Visible:
        """A facility by its slug; 404 where it may not be seen."""
        for visible in self.facilities.values():
            if visible.slug == slug:
                return visible
        raise not_found("facility")

    def require(self, facility_id: UUID, role: Role) -> Visible:
        """The facility, if the caller has this role or a higher one in it; 404 where it may not be seen, else 403."""
        visible = self.facilities.get(facility_id)
        if visible is None:
            raise not_found("thing")
        if not visible.allows(role):
            raise ProblemError(403, f"this needs the role {role} in {visible.name}; yours is {visible.role}")
        return visible

    def where(self, role: Role) -> list[UUID]:
        """Ids of the facilities in which the caller has this role or a higher one."""
        return [id for id, visible in self.facilities.items() if visible.allows(role)]

    def require_somewhere(self, role: Role) -> list[UUID]:
        """The same; 403 where that is none."""
        found = self.where(role)
        if not found:
            raise ProblemError(403, f"this needs the role {role}")
        return found

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
            raise ProblemError(403, "this form is from an earlier sign-in; go back, reload the page and try again")


def context(request: Request) -> Context:
    """What the application was made with."""
    return cast(Context, request.app.state.web)


def api_call(request: Request) -> Call:
    """The caller of the JSON API; 401 where nobody is known."""
    found = _recognise(request)
    if found is None:
        raise ProblemError(401, _UNKNOWN, {"WWW-Authenticate": 'Bearer realm="wickwatch"'})
    return found


def page_call(request: Request) -> Call:
    """The visitor of a page; leads to the sign-in where nobody is known."""
    found = _recognise(request)
    if found is None:
        if request.method not in _SAFE:
            raise ProblemError(401, "your session has ended; sign in and try again")
        raise SignInNeededError
    return found


def check_origin(request: Request) -> None:
    """Raise 403 where a browser was made to ask by a page of somebody else.

    A program that is no browser sends neither header and brings no cookie of anybody else's.
    """
    site = request.headers.get("sec-fetch-site")
    if site is not None:
        if site not in ("same-origin", "none"):
            raise ProblemError(403, "this was asked by a page of another site")
        return
    origin = request.headers.get("origin")
    if origin is not None and urlsplit(origin).netloc != request.headers.get("host"):
        raise ProblemError(403, "this was asked by a page of another site")


def address(request: Request) -> str:
    """Where a request comes from, as far as it is known."""
    return request.client.host if request.client else "unknown"


def _recognise(request: Request) -> Call | None:
    web = context(request)
    now = web.clock()
    scheme, _, token = request.headers.get("authorization", "").partition(" ")
    session = None if scheme else request.cookies.get(COOKIE)
    with web.connection() as conn:
        holder = None
        if scheme.lower() == "bearer" and token.strip():
            holder = stored.by_token(conn, token.strip(), now)
        elif session:
            holder = stored.by_session(conn, session, now)
        if holder is None:
            return None
        facilities = {visible.id: visible for visible in people.facilities_of(conn, holder.person_id)}
    if session is not None and request.method not in _SAFE:
        check_origin(request)
    return Call(web, holder.person_id, holder.name, facilities, session, now)


def _form_key(web: Context, session: str) -> bytes:
    return hmac.digest(web.settings.secret_key.encode(), b"form " + session.encode(), sha256)


ApiCall = Annotated[Call, Depends(api_call)]
PageCall = Annotated[Call, Depends(page_call)]

#: The hidden field that carries a form's token, for `Call.check_form`.
FormToken = Annotated[str, Form(alias="form_token")]

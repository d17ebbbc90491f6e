"""Browsers that somebody signed in with before, so that strangers who guess can't keep that person out.

Such a browser holds a signed note with the name, good for half a year, that opens nothing: its tries are counted by
themselves (OWASP, Slow Down Online Guessing Attacks with Device Cookies). Not here: the counting (`store.tries`).
"""

from __future__ import annotations

from base64 import urlsafe_b64encode
from datetime import timedelta
from hashlib import sha256

from fastapi import Request, Response
from itsdangerous import BadSignature, Signer

from wickwatch.web.context import Context

_COOKIE = "wickwatch_known"
_LASTS = timedelta(days=180)


def note_of(request: Request, web: Context, name: str) -> str | None:
    """The note that this browser signed in by this name before; None where it has none, or another's."""
    note = request.cookies.get(_COOKIE, "")
    try:
        said = _signer(web).unsign(note.encode())
    except (BadSignature, ValueError):
        return None
    return note if said == _said(name) else None


def remember(answer: Response, web: Context, name: str) -> None:
    """Let the browser keep such a note."""
    answer.set_cookie(
        _COOKIE,
        _signer(web).sign(_said(name)).decode(),
        max_age=int(_LASTS.total_seconds()),
        path="/sign-in",
        httponly=True,
        secure=web.secure,
        samesite="strict",
    )


def _said(name: str) -> bytes:
    return urlsafe_b64encode(name.lower().encode())


def _signer(web: Context) -> Signer:
    return Signer(web.settings.secret_key, salt="wickwatch.known", key_derivation="hmac", digest_method=sha256)

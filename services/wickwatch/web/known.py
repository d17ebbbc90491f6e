"""Browsers that somebody signed in with before, so that strangers who guess can't keep that person out.

Such a browser holds a signed note with the name, good for half a year, that opens nothing: its tries are counted by
themselves (OWASP, Slow Down Online Guessing Attacks with Device Cookies). Not here: the counting (`store.tries`).
"""

from __future__ import annotations

from datetime import timedelta

from fastapi import Request, Response

from wickwatch.sealed import opened, seal
from wickwatch.web.context import Context

_COOKIE = "wickwatch_known"
_PURPOSE = "known"
_LASTS = timedelta(days=180)


def note_of(request: Request, web: Context, name: str) -> str | None:
    """The note that this browser signed in by this name before; None where it has none, or another's."""
    note = request.cookies.get(_COOKIE, "")
    said = opened(web.settings.secret_key, _PURPOSE, note)
    return note if said == _said(name) else None


def remember(answer: Response, web: Context, name: str) -> None:
    """Let the browser keep such a note."""
    answer.set_cookie(
        _COOKIE,
        seal(web.settings.secret_key, _PURPOSE, _said(name)),
        max_age=int(_LASTS.total_seconds()),
        path="/sign-in",
        httponly=True,
        secure=web.secure,
        samesite="strict",
    )


def _said(name: str) -> bytes:
    return name.lower().encode()

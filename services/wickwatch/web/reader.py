"""To whom a page speaks: somebody known as they chose, somebody unknown in the language of their browser.

Programs are answered in plain English and in the units of the interface. Not here: what was chosen (`store.readers`).
"""

from __future__ import annotations

from babel import negotiate_locale
from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from wickwatch.texts import PLAIN, Choices, languages, speaking
from wickwatch.web.problems import for_programs

#: A browser's list of languages is read this far.
_MOST = 20


class Reader:
    """Middleware around everything that says something."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, spoken to as an unknown browser until somebody is recognised."""
        unknown = PLAIN
        if scope["type"] == "http" and not for_programs(scope["path"]):
            unknown = Choices(preferred(Headers(scope=scope).get("accept-language", "")))
        with speaking(unknown):
            await self._app(scope, receive, send)


def preferred(accepted: str) -> str:
    """The language that an Accept-Language header (RFC 9110, 12.5.4) wants most of those there are."""
    wanted = []
    for place, part in enumerate(accepted.split(",")[:_MOST]):
        name, _, weight = part.strip().partition(";")
        try:
            quality = float(weight.strip().removeprefix("q=") or 1)
        except ValueError:
            continue
        if quality > 0:
            wanted.append((-quality, place, name.strip().replace("-", "_")))
    found = negotiate_locale([name for _, _, name in sorted(wanted)], list(languages()))
    return found or PLAIN.language

"""Headers on every answer: nothing from another host, nothing inline, nothing guessed; a bug answered like any
other error, and a count of each request.

Not here: compression of pages, which their own thread does (`web.templates`).
"""

from __future__ import annotations

import time

from starlette.datastructures import MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from wickwatch.web import problems
from wickwatch.web.metrics import Metrics

_POLICY = "; ".join(
    [
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    ]
)

HEADERS = {
    "Content-Security-Policy": _POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}

#: On everything behind a signed link: the link must not travel on, be kept, or be found by a search.
LINK_PATH = "/a/"
LINK_HEADERS = {
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
    "X-Robots-Tag": "noindex, nofollow, noarchive",
}

#: Where people come over TLS, they do so for the next year without asking.
_TRANSPORT = "max-age=31536000"


class Headers:
    """Middleware around all that answers."""

    def __init__(self, app: ASGIApp, metrics: Metrics, secure: bool) -> None:
        self._app = app
        self._metrics = metrics
        self._headers = HEADERS | ({"Strict-Transport-Security": _TRANSPORT} if secure else {})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, add the headers to its answer, and count it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        given = self._headers | (LINK_HEADERS if scope["path"].startswith(LINK_PATH) else {})
        started = time.perf_counter()
        status = 500
        begun = False

        async def send_with_headers(message: Message) -> None:
            nonlocal status, begun
            if message["type"] == "http.response.start":
                begun = True
                status = message["status"]
                headers = MutableHeaders(scope=message)
                own_policy = headers.get("Content-Security-Policy")  # that of a report, which holds its own style
                for name, value in given.items():
                    headers[name] = value
                if own_policy is not None:
                    headers["Content-Security-Policy"] = own_policy
                if "cache-control" not in headers:
                    headers["Cache-Control"] = "private, no-cache"
            await send(message)

        try:
            await self._app(scope, receive, send_with_headers)
        except Exception as error:
            if not begun:
                await problems.bug(Request(scope), error)(scope, receive, send_with_headers)
            raise
        finally:
            self._metrics.request(scope["method"], _template(scope), status, time.perf_counter() - started)


def _template(scope: Scope) -> str:
    """The path with names in place of what was asked for, so that figures stay few; `none` where nothing serves it."""
    return problems.asked(scope) if "route" in scope else "none"

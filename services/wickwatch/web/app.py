"""Makes the application: routes, errors, headers, static files, and the description of the interface.

Not here: listening on a port (`web.server`).
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache
from typing import Any, cast

from fastapi import APIRouter, FastAPI
from fastapi.openapi.utils import get_openapi
from fastapi.routing import iter_route_contexts
from markupsafe import Markup
from psycopg_pool import ConnectionPool
from starlette.middleware.gzip import GZipMiddleware
from starlette.routing import BaseRoute

from wickwatch import __version__
from wickwatch.settings import Settings
from wickwatch.store.connect import Connection
from wickwatch.web import api, health, pages, problems, static
from wickwatch.web.access import cookie_name
from wickwatch.web.context import Context
from wickwatch.web.headers import Headers
from wickwatch.web.kept import Kept
from wickwatch.web.live import Live
from wickwatch.web.metrics import Metrics
from wickwatch.web.permits import PERMITS, Deed, Door, door
from wickwatch.web.problems import Problem
from wickwatch.web.reader import Reader
from wickwatch.web.snapshot import Snapshots
from wickwatch.web.templates import Templates
from wickwatch.web.views.card import Card

_ABOUT = (
    "Rooms, readings, alarms and work of every facility the caller may see. Times are RFC 3339 in UTC, durations are "
    "seconds, ids are text; a field that carries a unit says so in its name. Sign in on the page or give a token."
)


def utc_now() -> datetime:
    """The clock of a running application."""
    return datetime.now(UTC)


@cache
def _routes() -> tuple[list[BaseRoute], dict[Any, str | None]]:
    """What answers which address, and the address of each: worked out once, however many applications are made."""
    all_of_them = APIRouter(redirect_slashes=False)
    for each in (api.router, health.router, pages.router, static.router(static.load())):
        all_of_them.include_router(each)
    return all_of_them.routes, {each.endpoint: each.path_format for each in iter_route_contexts(all_of_them.routes)}


def create_app(
    settings: Settings, pool: ConnectionPool[Connection], clock: Callable[[], datetime] = utc_now
) -> FastAPI:
    """The application over a pool of connections; `clock` gives aware UTC time."""
    routes, addresses = _routes()
    app = FastAPI(
        routes=routes,
        title="Wickwatch",
        version=__version__,
        description=_ABOUT,
        docs_url=None,  # their pages load scripts from another host
        redoc_url=None,
        openapi_url=None,
        redirect_slashes=False,
    )
    templates = Templates(static.load().version)
    metrics = Metrics()

    def draw(card: Card) -> Markup:
        return templates.render("card.html", {"card": card})

    snapshots = Snapshots(pool, draw)
    app.state.web = Context(settings, pool, clock, templates, metrics, snapshots, Live(pool, snapshots, clock), Kept())
    problems.install(app)
    app.state.addresses = addresses
    app.add_middleware(GZipMiddleware, minimum_size=800, compresslevel=5)
    app.add_middleware(Headers, metrics=metrics, secure=app.state.web.secure)
    app.add_middleware(Reader)
    app.openapi = lambda: _openapi(app)  # type: ignore[method-assign]  # the way FastAPI gives to change it
    return app


def _needs(deed: Deed | Door) -> str:
    """Which role and which token a call needs, for the description."""
    permit = PERMITS[cast(Deed, deed)]
    role = f"the role {permit.role} in the facility concerned" if permit.role else "a sign-in"
    return f"Needs {role}, and of a token the scope {permit.scope}."


def _openapi(app: FastAPI) -> dict[str, Any]:
    """The description of the interface, with our shape of errors in place of the framework's."""
    if app.openapi_schema is None:
        made = get_openapi(title=app.title, version=app.version, description=app.description, routes=app.routes)
        schemas = made.setdefault("components", {}).setdefault("schemas", {})
        for name in ("HTTPValidationError", "ValidationError"):
            schemas.pop(name, None)
        problem = Problem.model_json_schema(ref_template="#/components/schemas/{model}")
        schemas |= problem.pop("$defs", {})
        schemas["Problem"] = problem
        made["components"]["securitySchemes"] = {
            "token": {"type": "http", "scheme": "bearer"},
            "session": {"type": "apiKey", "in": "cookie", "name": cookie_name(app.state.web)},
        }
        for path, calls in made["paths"].items():
            deeds = {method: door(method.upper(), path) for method in calls} if path.startswith("/api/") else {}
            for method, deed in deeds.items():
                calls[method]["security"] = [{"token": []}, {"session": []}]
                calls[method]["description"] = f"{calls[method]['description']}\n\n{_needs(deed)}"
        app.openapi_schema = made
    return app.openapi_schema

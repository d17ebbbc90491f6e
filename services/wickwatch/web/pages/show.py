"""What all pages share: the frame around them, banners, and going back where one came from.

Not here: any page's own content.
"""

from __future__ import annotations

from collections.abc import Sequence

from fastapi import Request, Response
from fastapi.responses import RedirectResponse

from wickwatch.store import jobs, pages
from wickwatch.store.connect import Connection
from wickwatch.store.people import Visible
from wickwatch.texts import N_
from wickwatch.web.access import Call
from wickwatch.web.problems import not_found
from wickwatch.web.templates import html
from wickwatch.web.views.watching import Banner, banners


def show(request: Request, call: Call, template: str, page: object, *, status: int = 200, **values: object) -> Response:
    """A page in its frame."""
    everything = {
        "page": page,
        "visitor": call.name,
        "form_token": call.form_token(),
        "path": request.url.path,
        "sets_up": not call.facilities or bool(call.where("set up")),
        "manages": bool(call.where("see health")),
        **values,
    }
    return html(request, call.web.templates.render(template, everything), status)


def part(request: Request, call: Call, template: str, page: object, **values: object) -> Response:
    """The part of a page that changes by itself, without its frame."""
    return html(request, call.web.templates.render(template, {"page": page, **values}))


def alive(conn: Connection, call: Call, facilities: Sequence[Visible] | None = None) -> tuple[Banner, ...]:
    """Banners for what is not alive, in some facilities or in all that may be seen."""
    seen = list(call.facilities.values()) if facilities is None else facilities
    return banners(jobs.parts(conn), pages.sweeps(conn, [each.id for each in seen]), seen, call.now)


def chosen(call: Call, slug: str) -> Visible:
    """The facility a page is asked for, or the first that may be seen; 404 where that is none."""
    if slug:
        return call.facility(slug)
    if not call.facilities:
        raise not_found(N_("facility"))
    return next(iter(call.facilities.values()))


def go(path: str) -> Response:
    """Lead to another page after a form."""
    return RedirectResponse(local(path), 303)


def local(path: str) -> str:
    """A path on this host, the first page for anything else."""
    fine = path.startswith("/") and not path.startswith(("//", "/\\")) and path.isprintable() and "\\" not in path
    return path if fine else "/"

"""A facility's own text for each kind of alarm, beside the steps that hold everywhere; managers edit it."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from wickwatch import log
from wickwatch.fleet import KINDS
from wickwatch.store import advice
from wickwatch.texts import _
from wickwatch.web.access import FormToken, PageCall
from wickwatch.web.pages.show import alive, go, show
from wickwatch.web.problems import ProblemError
from wickwatch.web.views.own_advice import advice_page

router = APIRouter()


@router.get("/facilities/{slug}/advice")
def page(request: Request, call: PageCall, slug: str) -> Response:
    """The steps of every kind with the facility's own text."""
    facility = call.facility(slug)
    with call.web.connection() as conn:
        made = advice_page(facility, advice.own(conn, facility.id), alive(conn, call))
    return show(request, call, "own_advice.html", made)


@router.post("/facilities/{slug}/advice")
def write(
    call: PageCall,
    slug: str,
    kind: Annotated[str, Form(max_length=40)],
    text: Annotated[str, Form(max_length=2000)] = "",
    form_token: FormToken = "",
) -> Response:
    """Replace the text of one kind of alarm; an empty one takes it away."""
    call.check_form(form_token)
    facility = call.require(call.facility(slug).id, "write advice")
    if kind not in KINDS:
        raise ProblemError(422, _("there is no kind of alarm called %(kind)s", kind=repr(kind)))
    with call.web.connection() as conn:
        advice.replace(conn, facility.id, advice.own(conn, facility.id) | {kind: text})
    log.event("advice.written", facility=facility.slug, kind=kind, person=call.name)
    return go(f"/facilities/{facility.slug}/advice#{kind}")

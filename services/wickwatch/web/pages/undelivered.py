"""Calls and reports that never arrived, with a way to try each again. Not here: what is dead (`store.dead_letters`)."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from wickwatch import log
from wickwatch.store import dead_letters
from wickwatch.texts import N_
from wickwatch.web.access import FormToken, PageCall
from wickwatch.web.api.fields import uuid
from wickwatch.web.pages.show import alive, go, show
from wickwatch.web.views import undelivered as view

router = APIRouter()


@router.get("/undelivered")
def page(request: Request, call: PageCall) -> Response:
    """Those of facilities the visitor manages, and the visitor's own."""
    with call.web.connection() as conn:
        letters = dead_letters.undelivered(conn, call.where("see undelivered calls"), call.person_id)
        banners = alive(conn, call)
    return show(request, call, "undelivered.html", view.page(letters, banners, call.now))


@router.post("/undelivered/{id}/again")
def again(call: PageCall, id: str, form_token: FormToken = "") -> Response:
    """Try a message again that could not be sent, at once."""
    call.check_form(form_token)
    with call.web.connection() as conn:
        dead_letters.again(conn, uuid(id, N_("message")), call.where("try calls again"), call.person_id, call.now)
    log.event("notice.again", notice=id, person=call.name)
    return go("/undelivered")

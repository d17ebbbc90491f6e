"""How a person is reached, on their own page: add a way, order them, send a test, add this device.

Not here: the page around it (`web.pages.me`), or sending (`notify`).
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from pydantic import BaseModel, Field

from wickwatch import log
from wickwatch.errors import InputError
from wickwatch.notify import services
from wickwatch.store import access
from wickwatch.store import contacts as stored
from wickwatch.texts import N_, _
from wickwatch.web import reach
from wickwatch.web.access import FormToken, PageCall, context, writing
from wickwatch.web.api.fields import uuid
from wickwatch.web.pages import me
from wickwatch.web.pages.show import go
from wickwatch.web.problems import ProblemError, not_found

router = APIRouter()

Text = Annotated[str, Form(max_length=2000)]

#: Ways that make this machine call an address of somebody's choice.
_BY_URL = ("webhook", "service")


@router.post("/me/contacts")
def add(
    request: Request, call: PageCall, way: Text, address: Text, label: Text = "", form_token: FormToken = ""
) -> Response:
    """Add a way to reach a person; a webhook's secret is shown this once."""
    call.check_form(form_token)
    if way in _BY_URL and not reach.may_add_urls(call):
        raise ProblemError(403, _("this needs the role manager"))
    secret = stored.new_secret() if way == "webhook" else None
    try:
        if way == "push":
            raise InputError(_("way to reach a person"), way, _("email, webhook or service; a device adds itself"))
        if way == "service":
            services.check(address.strip())
        with call.web.connection() as conn:
            stored.add(conn, call.person_id, way, address, secret, label)
    except InputError as error:
        return me.page_of(request, call, error=str(error), status=422)
    log.event("contact.added", person=call.name, way=way)
    return me.page_of(request, call, signing=secret) if secret else go("/me#reach")


@router.post("/me/devices")
def add_device(
    request: Request, call: PageCall, address: Text, key: Text, auth: Text, label: Text = "", form_token: FormToken = ""
) -> Response:
    """Add the browser that sends this as a way to reach a person."""
    call.check_form(form_token)
    try:
        with call.web.connection() as conn:
            stored.add_browser(conn, call.person_id, address, key, auth, label, call.now)
    except InputError as error:
        return me.page_of(request, call, error=str(error), status=422)
    log.event("contact.added", person=call.name, way="push")
    return go("/me#reach")


class Renewed(BaseModel):
    """A subscription that a browser has changed, as its service worker tells it; `secret` is the former one's."""

    former: str = Field(max_length=2000)
    secret: str = Field(max_length=100)
    address: str = Field(max_length=2000)
    p256dh: str = Field(max_length=200)
    auth: str = Field(max_length=100)


@router.post("/devices/renewed", status_code=204)
def renew_device(request: Request, told: Renewed) -> None:
    """Reach a device at the address that its browser has changed to."""
    web = context(request)
    with web.connection() as conn:
        known = stored.browser(conn, told.former, told.secret)
        holder = access.by_person(conn, known[1]) if known else None
    if known is None or holder is None:
        raise not_found(N_("device"))
    with writing(request, "page", holder).connection() as conn:
        stored.renew_browser(conn, known[0], told.address, told.p256dh, told.auth, web.clock())
    log.event("contact.renewed", person=holder.name)


@router.post("/me/contacts/{id}/test")
def test(call: PageCall, id: str, form_token: FormToken = "") -> Response:
    """Send a test over a way to reach a person."""
    call.check_form(form_token)
    with call.web.connection() as conn:
        reach.send_test(conn, call, uuid(id, N_("contact")))
    return go("/me#reach")


@router.post("/me/contacts/{id}/up")
def up(call: PageCall, id: str, form_token: FormToken = "") -> Response:
    """Try a way to reach a person before the one above it."""
    call.check_form(form_token)
    with call.web.connection() as conn:
        stored.move_up(conn, call.person_id, uuid(id, N_("contact")))
    return go("/me#reach")


@router.post("/me/contacts/{id}/remove")
def remove(call: PageCall, id: str, form_token: FormToken = "") -> Response:
    """No longer use a way to reach a person."""
    call.check_form(form_token)
    with call.web.connection() as conn:
        stored.remove(conn, call.person_id, uuid(id, N_("contact")), call.now)
    log.event("contact.removed", person=call.name)
    return go("/me#reach")

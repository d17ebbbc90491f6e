"""The rota as a calendar at a secret address, and the forms that make and end such an address.

A calendar's reader can't sign in, so whoever knows the address may read; it is not guessed, and ends when its maker or
a manager ends it. Not here: the calendar's content (`alarms.rota_calendar`).
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from wickwatch import log
from wickwatch.alarms.rota_calendar import MEDIA_TYPE, Wanted, calendar, shown
from wickwatch.store import rota_feed, rota_plan
from wickwatch.texts import N_
from wickwatch.web.access import FormToken, PageCall, context
from wickwatch.web.api.fields import uuid
from wickwatch.web.pages.rota import rota_page
from wickwatch.web.pages.show import go
from wickwatch.web.problems import not_found

router = APIRouter()


@router.get("/rota/{secret}.ics")
def feed(request: Request, secret: str) -> Response:
    """The rota as whoever knows the address may read it."""
    web = context(request)
    now = web.clock()
    with web.connection() as conn:
        found = rota_feed.by_secret(conn, secret)
        if found is None:
            raise not_found(N_("calendar"))
        zone = rota_plan.zone_of(conn, found.facility_id)
        rota = rota_plan.load(conn, found.facility_id, *shown(now, zone))
        names = rota_feed.names(conn)
    text = calendar(rota, names, Wanted(found.facility_name, found.person_id), now)
    return Response(text, media_type=MEDIA_TYPE, headers={"Content-Disposition": 'inline; filename="rota.ics"'})


@router.post("/rota/{slug}/feeds")
def add(
    request: Request,
    call: PageCall,
    slug: str,
    whose: Annotated[str, Form(max_length=10)] = "",
    form_token: FormToken = "",
) -> Response:
    """Make a calendar's address for everybody's turns or the visitor's own, and show it, this once."""
    call.check_form(form_token)
    facility = call.facility(slug)
    person_id = None if whose == "everybody" else call.person_id
    with call.web.connection() as conn:
        secret = rota_feed.add(conn, facility.id, person_id, call.person_id, call.now)
    log.event("rota.feed-made", facility=facility.slug, whose=whose or "own", person=call.name)
    address = call.web.address(f"/rota/{secret}.ics")
    return rota_page(request, call, facility, secret=address)


@router.post("/rota/{slug}/feeds/{id}/end")
def end(call: PageCall, slug: str, id: str, form_token: FormToken = "") -> Response:
    """End a calendar's address: its maker, or a manager."""
    call.check_form(form_token)
    facility = call.facility(slug)
    feed_id = uuid(id, N_("calendar"))
    with call.web.connection() as conn:
        known = next((each for each in rota_feed.of_facility(conn, facility.id) if each.id == feed_id), None)
        if known is None:
            raise not_found(N_("calendar"))
        if known.made_by != call.person_id:
            call.require(facility.id, "change the rota")
        rota_feed.revoke(conn, facility.id, feed_id, call.now)
    log.event("rota.feed-ended", facility=facility.slug, person=call.name)
    return go(f"/rota?facility={facility.slug}")

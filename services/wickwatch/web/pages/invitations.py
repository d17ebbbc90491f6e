"""Invitations: made and taken back by a facility's administrators, accepted by whoever opens one and is signed in.

Not here: people who have a role (`set_up_people`), or what an invitation is (`store.invitations`).
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from wickwatch.errors import InputError
from wickwatch.store import access, invitations
from wickwatch.store.connect import Connection
from wickwatch.store.invitations import Offer
from wickwatch.texts import N_, _
from wickwatch.web.access import Call, FormToken, PageCall, address, device_of, keep_session
from wickwatch.web.api.fields import uuid
from wickwatch.web.pages.set_up_people import administered, people_page
from wickwatch.web.pages.show import go, show
from wickwatch.web.problems import ProblemError, not_found
from wickwatch.web.views import set_up_people as view

router = APIRouter()

Text = Annotated[str, Form(max_length=200)]


@router.post("/set-up/{slug}/people/invitations")
def invite(
    request: Request, call: PageCall, slug: str, label: Text, role: Text, form_token: FormToken = ""
) -> Response:
    """Make an invitation to a role here, and show its address, this once."""
    call.check_form(form_token)
    facility = administered(call, slug)
    try:
        with call.web.connection() as conn:
            secret = invitations.add(conn, facility.id, role, label, call.person_id, call.now)
    except InputError as error:
        return people_page(request, call, facility, error=str(error))
    link = call.web.address(f"/invitations/{secret}")
    return people_page(request, call, facility, invitation=link, link_for=" ".join(label.split()))


@router.post("/set-up/{slug}/people/invitations/{id}/end")
def take_back(call: PageCall, slug: str, id: str, form_token: FormToken = "") -> Response:
    """Take an invitation back before it is accepted."""
    call.check_form(form_token)
    facility = administered(call, slug)
    with call.web.connection() as conn:
        if not invitations.take_back(conn, facility.id, uuid(id, N_("invitation")), call.now):
            raise not_found(N_("invitation"))
    return go(f"/set-up/{facility.slug}/people")


@router.get("/invitations/{secret}")
def page(request: Request, call: PageCall, secret: str) -> Response:
    """What is offered, to whoever opens the address."""
    with call.web.connection() as conn:
        offer = _offer(conn, call, secret)
    seen = call.facilities.get(offer.facility_id)
    made = view.InvitationPage(offer.facility_name, offer.role, view.ROLES[offer.role], offer.made_by, seen)
    return show(request, call, "invitation.html", made)


@router.post("/invitations/{secret}/accept")
def accept(request: Request, call: PageCall, secret: str, form_token: FormToken = "") -> Response:
    """Accept an invitation to a role.

    A change of roles ends every session of a person; this one is renewed.
    """
    call.check_form(form_token)
    with call.web.connection() as conn:
        offer = _offer(conn, call, secret)
        invitations.accept(conn, offer, call.person_id, call.now)
        session = access.open_session(
            conn, call.person_id, address(request), call.now, call.session, device_of(request)
        )
    answer = go(f"/?facility={offer.facility_slug}")
    keep_session(answer, call.web, session)
    return answer


def _offer(conn: Connection, call: Call, secret: str) -> Offer:
    offer = invitations.offered(conn, secret, call.now)
    if offer is None:
        raise ProblemError(404, _("This invitation was accepted, taken back, or is older than a week: ask for another"))
    return offer

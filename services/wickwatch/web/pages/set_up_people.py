"""People of a facility: who has which role and can be called; an administrator adds them and changes their roles.

Nobody sets a password for somebody else: a link to choose one is made for whoever was added here and has none yet; for
whoever signs in, only by somebody who administers every facility. So no administrator of some becomes somebody of
another, or learns who is (`deploy/decisions/passwords-of-others.md`).
Not here: how a person is reached, which is their own page's (`contacts`), invitations, or the rota.
"""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Form, Request, Response

from wickwatch.errors import InputError, RefusedError
from wickwatch.store import audit, contacts, invitations, members, people
from wickwatch.store.connect import Connection
from wickwatch.store.members import Member
from wickwatch.store.people import Visible
from wickwatch.texts import N_, _
from wickwatch.web import changing, own_password
from wickwatch.web.access import Call, FormToken, PageCall
from wickwatch.web.api.fields import uuid
from wickwatch.web.pages import set_up_forms as forms
from wickwatch.web.pages.show import go, show
from wickwatch.web.problems import not_found
from wickwatch.web.views import set_up_people as view

router = APIRouter(prefix="/set-up/{slug}/people")

Text = Annotated[str, Form(max_length=200)]


@router.get("")
def page(request: Request, call: PageCall, slug: str) -> Response:
    """Everybody with a role in a facility."""
    return people_page(request, call, forms.managed(call, slug))


@router.post("")
def add(
    request: Request, call: PageCall, slug: str, name: Text, role: Text, signs_in: Text = "", form_token: FormToken = ""
) -> Response:
    """Add a person with a role here; the link to choose a password is shown this once."""
    call.check_form(form_token)
    facility = administered(call, slug)
    try:
        with call.web.connection() as conn:
            full = _full_name(conn, call, facility, name)
            person_id = people.add_person(conn, full, role, [facility.slug], None)
            changing.note(conn, call, facility.id, f"add     person {full} as {role}")
            link = _link(conn, call, person_id) if signs_in else ""
    except InputError as error:
        return people_page(request, call, facility, error=str(error), name=name)
    if not link:
        return go(f"/set-up/{facility.slug}/people")
    return people_page(request, call, facility, link_for=full, password=link)


@router.post("/{id}/role")
def set_role(call: PageCall, slug: str, id: str, role: Text, form_token: FormToken = "") -> Response:
    """Give somebody another role here."""
    call.check_form(form_token)
    facility = administered(call, slug)
    one = _other(call, facility, id)
    with call.web.connection() as conn:
        members.set_role(conn, facility.id, one.id, role)
        changing.note(conn, call, facility.id, f"change  person {one.name}: role {one.role} → {role}")
    return go(f"/set-up/{facility.slug}/people")


@router.post("/{id}/remove")
def remove(call: PageCall, slug: str, id: str, form_token: FormToken = "") -> Response:
    """Take somebody's role here away."""
    call.check_form(form_token)
    facility = administered(call, slug)
    one = _other(call, facility, id)
    with call.web.connection() as conn:
        members.leave(conn, facility.id, one.id)
        changing.note(conn, call, facility.id, f"retire  person {one.name}: role {one.role}")
    return go(f"/set-up/{facility.slug}/people")


@router.post("/{id}/mail")
def set_mail(
    request: Request, call: PageCall, slug: str, id: str, address: Text = "", form_token: FormToken = ""
) -> Response:
    """Say by which mail address somebody is called who does not sign in, and so has no page to say it on."""
    call.check_form(form_token)
    facility = call.require(call.facility(slug).id, "name addresses to call")
    one = _other(call, facility, id)
    if not view.ours(one):
        raise RefusedError(_("whoever signs in says on their own page how they are called"))
    try:
        with call.web.connection() as conn:
            contacts.set_mail(conn, one.id, address, call.now)
            changing.note(conn, call, facility.id, f"change  person {one.name}: mail address")
    except InputError as error:
        return people_page(request, call, facility, error=str(error))
    return go(f"/set-up/{facility.slug}/people")


@router.post("/{id}/password")
def renew(request: Request, call: PageCall, slug: str, id: str, form_token: FormToken = "") -> Response:
    """Make a link by which somebody chooses a password, and show it this once."""
    call.check_form(form_token)
    facility = administered(call, slug)
    one = _other(call, facility, id)
    with call.web.connection() as conn:
        if not _may_renew(conn, call) and not view.ours(one):
            raise RefusedError(_("whoever administers every facility makes links for those who sign in already"))
        link = _link(conn, call, one.id)
        audit.note(conn, facility.id, "person", one.name, {"link": "password"})
        changing.note(conn, call, facility.id, f"change  person {one.name}: link for a password")
    return people_page(request, call, facility, link_for=one.name, password=link)


def people_page(request: Request, call: Call, facility: Visible, **told: str) -> Response:
    """The page, with what was just made or wrong."""
    with call.web.connection() as conn:
        found = members.of_facility(conn, facility.id)
        invited = invitations.of_facility(conn, facility.id, call.now)
        realm, may_renew = _realm(conn, call, facility), _may_renew(conn, call)
    made = view.page(facility, found, invited, call.person_id, call.now, realm, may_renew, **told)
    return show(request, call, "set_up_people.html", made, status=422 if made.error else 200)


def administered(call: Call, slug: str) -> Visible:
    """A facility whose people the caller may change; 403 or 404 for any other."""
    return call.require(call.facility(slug).id, "manage people")


def _link(conn: Connection, call: Call, person_id: UUID) -> str:
    """The address at which somebody chooses a password."""
    token = own_password.token(conn, call.web.settings.secret_key, person_id, call.now)
    return call.web.address(f"/password/{token}")


def _may_renew(conn: Connection, call: Call) -> bool:
    """Whether the caller administers every facility, so that nobody's account lets them in where they are not."""
    return people.everywhere(conn, call.person_id, ("administrator",))


def _realm(conn: Connection, call: Call, facility: Visible) -> str:
    """What stands behind the name of whoever is added: nothing, where an administrator of all facilities adds them.

    A name is one person's in the whole installation. Whoever administers one facility alone adds names that end in
    that facility's slug, which nobody has who was added elsewhere: so no answer tells whether a name is known there.
    """
    return "" if _may_renew(conn, call) else f"@{facility.slug}"


def _full_name(conn: Connection, call: Call, facility: Visible, typed: str) -> str:
    """The name that somebody new gets; what was typed, which is then refused, where somebody here is called so."""
    name = people.line(_("name"), typed)
    here = {one.name.casefold() for one in members.of_facility(conn, facility.id)}
    return name if name.casefold() in here else people.line(_("name"), name + _realm(conn, call, facility))


def _other(call: Call, facility: Visible, id: str) -> Member:
    """Somebody else with a role given in this facility; one's own is another's to change."""
    with call.web.connection() as conn:
        found = members.member(conn, facility.id, uuid(id, N_("person")))
    if found is None or found.role is None:
        raise not_found(N_("person"))
    if found.id == call.person_id:
        raise RefusedError(_("your own role is for another administrator to change"))
    return found

"""Set-up: facilities, the guide to the first watched room, rooms and gateways; for managers.

Not here: what stands in a room (`set_up_room`), channels (`set_up_channels`), rules or people.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from wickwatch.errors import InputError
from wickwatch.fleet import editing
from wickwatch.fleet.difference import Place
from wickwatch.store import colleagues, pages, people
from wickwatch.store.connect import Connection
from wickwatch.store.pages import set_up as stored
from wickwatch.texts import _
from wickwatch.web import changing
from wickwatch.web.access import FormToken, PageCall
from wickwatch.web.forms import FormFields
from wickwatch.web.pages import set_up_forms as forms
from wickwatch.web.pages.show import alive, go, show
from wickwatch.web.problems import ProblemError
from wickwatch.web.views import set_up as view

router = APIRouter()


@router.get("/set-up")
def start(request: Request, call: PageCall) -> Response:
    """The facilities that the visitor sets up; the first step where there is none."""
    with call.web.connection() as conn:
        may_add = _administers_all(conn, call)
    mine = [each for each in call.facilities.values() if call.may(each.id, "set up")]
    if len(mine) == 1 and not may_add:
        return go(f"/set-up/{mine[0].slug}")
    if may_add and not call.facilities:
        return go("/new-facility")
    return show(request, call, "set_up_start.html", mine, may_add=may_add)


@router.get("/new-facility")
def new_facility(request: Request, call: PageCall) -> Response:
    """The form of a facility."""
    _administrator(call)
    return forms.show_form(request, call, forms.Form("facility"))


@router.post("/new-facility")
def add_facility(request: Request, call: PageCall, typed: FormFields) -> Response:
    """Add a facility."""
    call.check_form(typed.get("form_token"))
    _administrator(call)
    form = forms.Form("facility")
    try:
        facility = editing.new_facility(forms.values_of(form, typed))
        changing.add_facility(call, facility)
    except InputError as error:
        return forms.show_form(request, call, form, typed, error)
    return go(f"/set-up/{facility.slug}")


@router.get("/set-up/{slug}")
def page(request: Request, call: PageCall, slug: str) -> Response:
    """What is set up in a facility, and what comes next."""
    facility = forms.managed(call, slug)
    with call.web.connection() as conn:
        reachable = sum(bool(each.ways) for each in colleagues.of_facility(conn, facility.id))
        made = view.page(
            facility,
            stored.room_counts(conn, facility.id),
            stored.gateways(conn, facility.id),
            pages.waiting_channels(conn, [facility.id]).get(facility.id, 0),
            reachable,
            alive(conn, call),
            call.now,
        )
    return show(request, call, "set_up.html", made)


@router.get("/set-up/{slug}/edit")
def edit(request: Request, call: PageCall, slug: str) -> Response:
    """The form of a facility that is there."""
    facility = forms.managed(call, slug)
    one = forms.facility_with(call, facility, [])
    return forms.show_form(request, call, forms.Form("facility", facility, None, one))


@router.post("/set-up/{slug}/edit")
def change(request: Request, call: PageCall, slug: str, typed: FormFields) -> Response:
    """Change a facility's name or zone."""
    call.check_form(typed.get("form_token"))
    facility = forms.managed(call, slug)
    form = forms.Form("facility", facility, None, forms.facility_with(call, facility, []))
    return forms.save(request, call, form, typed, form.here)


@router.get("/set-up/{slug}/remove")
def ask_remove(request: Request, call: PageCall, slug: str) -> Response:
    """The question before a facility is taken out of use."""
    facility = call.require(call.facility(slug).id, "end facilities")
    there = forms.facility_with(call, facility, None)
    refused = (
        _(
            "It has rooms still: take %(names)s out of use first.",
            names=", ".join(room.name for room in there.rooms[:5]),
        )
        if there.rooms
        else ""
    )
    follows = (_("Its gateways are no longer listened to."), _("Readings, alarms and work stay on record."))
    form = forms.Form("facility", facility, None, there)
    return forms.ask_removal(request, call, form, follows, f"{form.here}/edit", refused)


@router.post("/set-up/{slug}/remove")
def remove(call: PageCall, slug: str, form_token: FormToken = "") -> Response:
    """Take a facility without rooms out of use."""
    call.check_form(form_token)
    facility = call.require(call.facility(slug).id, "end facilities")
    changing.end_facility(call, facility)
    return go("/set-up")


@router.get("/set-up/{slug}/add-room")
def new_room(request: Request, call: PageCall, slug: str) -> Response:
    """The form of a room."""
    return forms.show_form(request, call, forms.Form("room", forms.managed(call, slug)))


@router.post("/set-up/{slug}/add-room")
def add_room(request: Request, call: PageCall, slug: str, typed: FormFields) -> Response:
    """Add a room."""
    call.check_form(typed.get("form_token"))
    facility = forms.managed(call, slug)
    form = forms.Form("room", facility)
    try:
        table = forms.values_of(form, typed)
        changing.change_place(
            call, facility, lambda there: editing.add(there, "room", None, [table]), str(table["slug"])
        )
    except InputError as error:
        return forms.show_form(request, call, form, typed, error)
    return go(f"{form.here}/rooms/{table['slug']}")


@router.post("/set-up/{slug}/gateways")
def add_gateway(
    call: PageCall, slug: str, gateway: Annotated[str, Form(max_length=100)], form_token: FormToken = ""
) -> Response:
    """Say that a gateway should be heard."""
    call.check_form(form_token)
    facility = forms.managed(call, slug)
    table = {"slug": gateway.strip()}
    changing.change_place(call, facility, lambda there: editing.add(there, "gateway", None, [table]))
    return go(f"/set-up/{facility.slug}#gateways")


@router.post("/set-up/{slug}/gateways/{gateway}/remove")
def remove_gateway(call: PageCall, slug: str, gateway: str, form_token: FormToken = "") -> Response:
    """No longer expect a gateway."""
    call.check_form(form_token)
    facility = forms.managed(call, slug)
    place = Place("gateway", facility.slug, None, gateway)
    changing.change_place(call, facility, lambda there: editing.remove(there, place))
    return go(f"/set-up/{facility.slug}#gateways")


def _administrator(call: PageCall) -> None:
    """Raise 403 unless the visitor is an administrator of every facility, also of those to come."""
    with call.web.connection() as conn:
        if not _administers_all(conn, call):
            raise ProblemError(403, _("this needs an administrator of all facilities"))


def _administers_all(conn: Connection, call: PageCall) -> bool:
    return people.everywhere(conn, call.person_id, ("administrator",))

"""Set-up of one room: its light, reservoirs, supply lines and containers, added, changed and taken out of use.

Not here: what measures them (`set_up_channels`).
"""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from wickwatch.errors import InputError
from wickwatch.fleet import editing
from wickwatch.fleet.declared import CHANNEL_FIELDS, DeclaredRoom, attached
from wickwatch.fleet.difference import Place
from wickwatch.store.people import Visible
from wickwatch.texts import N_, _, ngettext
from wickwatch.web import changing
from wickwatch.web.access import FormToken, PageCall
from wickwatch.web.forms import FormFields
from wickwatch.web.pages import set_up_forms as forms
from wickwatch.web.pages.show import go, show
from wickwatch.web.problems import not_found
from wickwatch.web.views import set_up_room as view
from wickwatch.web.views import words
from wickwatch.web.views.set_up import counted

router = APIRouter(prefix="/set-up/{slug}/rooms/{room}")

_PARTS = ("reservoir", "line", "container")


@router.get("")
def page(request: Request, call: PageCall, slug: str, room: str) -> Response:
    """What stands in a room."""
    facility, there = _room(call, slug, room)
    return show(request, call, "set_up_room.html", view.page(facility, there))


@router.get("/edit")
def edit(request: Request, call: PageCall, slug: str, room: str) -> Response:
    """The form of a room."""
    facility, there = _room(call, slug, room)
    return forms.show_form(request, call, forms.Form("room", facility, None, there))


@router.post("/edit")
def change(request: Request, call: PageCall, slug: str, room: str, typed: FormFields) -> Response:
    """Change a room's name or light."""
    call.check_form(typed.get("form_token"))
    facility, there = _room(call, slug, room)
    form = forms.Form("room", facility, None, there)
    return forms.save(request, call, form, typed, _path(facility, room))


@router.get("/remove")
def ask_remove(request: Request, call: PageCall, slug: str, room: str) -> Response:
    """The question before a room is taken out of use."""
    facility, there = _room(call, slug, room)
    parts = len(there.reservoirs), len(there.lines), len(there.containers)
    held = [counted(kind, count) for count, kind in zip(parts, _PARTS, strict=True) if count]
    inside = (_("%(names)s in it go with it.", names=words.names(held)),) if held else ()
    count = len(list(attached(forms.facility_with(call, facility, [room]))))
    form = forms.Form("room", facility, None, there)
    return forms.ask_removal(request, call, form, (*inside, *_detached(count)), f"{_path(facility, room)}/edit")


@router.post("/remove")
def remove(call: PageCall, slug: str, room: str, form_token: FormToken = "") -> Response:
    """Take a room out of use with all that stands in it."""
    call.check_form(form_token)
    facility, there = _room(call, slug, room)
    place = Place("room", facility.slug, None, there.slug)
    changing.change_place(call, facility, lambda found: editing.remove(found, place), room)
    return go(f"/set-up/{facility.slug}")


@router.get("/add/{kind}")
def new_part(request: Request, call: PageCall, slug: str, room: str, kind: str) -> Response:
    """The form of a new part."""
    facility, there = _room(call, slug, room)
    return forms.show_form(request, call, forms.Form(_kind(kind), facility, there))


@router.post("/add/{kind}")
def add_part(request: Request, call: PageCall, slug: str, room: str, kind: str, typed: FormFields) -> Response:
    """Add a part of a room, or many alike; or only look at what was typed."""
    call.check_form(typed.get("form_token"))
    facility, there = _room(call, slug, room)
    form = forms.Form(_kind(kind), facility, there)
    if typed.get("do") == "check":
        return forms.show_form(request, call, form, typed)
    try:
        tables = forms.tables_of(form, typed)
        changing.change_place(call, facility, lambda found: editing.add(found, kind, room, tables), room)
    except InputError as error:
        return forms.show_form(request, call, form, typed, error)
    return go(f"{_path(facility, room)}#{kind}s")


@router.get("/{kind}/{part}")
def show_part(request: Request, call: PageCall, slug: str, room: str, kind: str, part: str) -> Response:
    """The form of a part that is there."""
    facility, there = _room(call, slug, room)
    one = forms.part_of(there, kind, part)
    return forms.show_form(request, call, forms.Form(kind, facility, there, one))


@router.post("/{kind}/{part}")
def change_part(
    request: Request, call: PageCall, slug: str, room: str, kind: str, part: str, typed: FormFields
) -> Response:
    """Change a part of a room; or only look at what was typed."""
    call.check_form(typed.get("form_token"))
    facility, there = _room(call, slug, room)
    form = forms.Form(kind, facility, there, forms.part_of(there, kind, part))
    if typed.get("do") == "check":
        return forms.show_form(request, call, form, typed)
    return forms.save(request, call, form, typed, f"{_path(facility, room)}#{kind}s")


@router.get("/{kind}/{part}/remove")
def ask_remove_part(request: Request, call: PageCall, slug: str, room: str, kind: str, part: str) -> Response:
    """The question before a part is taken out of use."""
    facility, there = _room(call, slug, room)
    one = forms.part_of(there, kind, part)
    fed = {
        "reservoir": [line.name for line in there.lines if line.reservoir == part],
        "line": [pot.name for pot in there.containers if pot.line == part],
    }.get(kind, [])
    left = (_("%(names)s will be fed by nothing known here.", names=words.names(fed)),) if fed else ()
    count = sum(getattr(one, key) is not None for key in CHANNEL_FIELDS[kind])
    form = forms.Form(kind, facility, there, one)
    return forms.ask_removal(request, call, form, (*left, *_detached(count)), f"{_path(facility, room)}/{kind}/{part}")


@router.post("/{kind}/{part}/remove")
def remove_part(call: PageCall, slug: str, room: str, kind: str, part: str, form_token: FormToken = "") -> Response:
    """Take a part of a room out of use."""
    call.check_form(form_token)
    facility, there = _room(call, slug, room)
    one = forms.part_of(there, kind, part)
    place = Place(kind, facility.slug, there.slug, one.slug)
    changing.change_place(call, facility, lambda found: editing.remove(found, place), room)
    return go(f"{_path(facility, room)}#{kind}s")


def _room(call: PageCall, slug: str, room: str) -> tuple[Visible, DeclaredRoom]:
    facility = forms.managed(call, slug)
    return facility, forms.room_of(call, facility, room)


def _kind(kind: str) -> str:
    if kind not in _PARTS:
        raise not_found(N_("kind of part"))
    return kind


def _path(facility: Visible, room: str) -> str:
    return f"/set-up/{facility.slug}/rooms/{room}"


def _detached(count: int) -> tuple[str, ...]:
    """What becomes of what measures a thing, and of its past."""
    freed = ngettext(
        "%(num)s channel will be attached to nothing.", "%(num)s channels will be attached to nothing.", count
    )
    return (*((freed,) if count else ()), _("Its open alarms end. Readings, alarms and work stay on record."))

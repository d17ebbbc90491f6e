"""What the forms of set-up share: which thing is edited, what was typed, and the page that shows both.

Not here: the routes (`set_up`, `set_up_room`), or what a field is called (`web.views.part_fields`).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from fastapi import Request, Response

from wickwatch.agronomy.tank import SHAPES
from wickwatch.errors import InputError
from wickwatch.fleet.declared import Declared, DeclaredFacility, DeclaredReservoir, DeclaredRoom
from wickwatch.fleet.difference import Place
from wickwatch.fleet.editing import edit, slug_from
from wickwatch.fleet.writing import to_values
from wickwatch.store import fleet, pages
from wickwatch.store.people import Visible
from wickwatch.texts import N_, _, volume_unit
from wickwatch.web import changing
from wickwatch.web.access import Call
from wickwatch.web.forms import number, read
from wickwatch.web.pages.show import go, show
from wickwatch.web.problems import not_found
from wickwatch.web.views.fields import Group, all_fields, filled, inside, shown, told
from wickwatch.web.views.part_fields import ADD, MOST_AT_ONCE, NEW, count_field, fields_of, hidden_keys
from wickwatch.web.views.set_up_form import Crumb, FormPage, RemovePage
from wickwatch.web.views.tank_check import TankCheck, tank_check

Typed = Mapping[str, str]


@dataclass(frozen=True)
class Form:
    """One form: of a new thing, or of the one there is. Without a facility it is that of a new facility."""

    kind: str
    facility: Visible | None = None
    room: DeclaredRoom | None = None
    one: Declared | None = None

    @property
    def new(self) -> bool:
        """Whether the thing is not there yet."""
        return self.one is None

    @property
    def place(self) -> Place:
        """Where the thing that is edited stands."""
        assert self.one is not None
        facility = self.facility.slug if self.facility else self.one.slug
        return Place(self.kind, facility, self.room.slug if self.room else None, self.one.slug)

    @property
    def where(self) -> str:
        """How problems of this form begin, in the words of the fleet file's reader."""
        if not self.new:
            return str(self.place)
        if self.facility is None:
            return self.kind
        above = f"facility {self.facility.slug}, "
        return f"{above}room {self.room.slug}, {self.kind}" if self.room else f"{above}{self.kind}"

    @property
    def here(self) -> str:
        """The path of what the thing stands in."""
        if self.facility is None:
            return "/set-up"
        path = f"/set-up/{self.facility.slug}"
        return f"{path}/rooms/{self.room.slug}" if self.room else path


def groups_of(form: Form, typed: Typed) -> tuple[Group, ...]:
    """The form's fields, empty; those of a reservoir follow its shape."""
    groups = fields_of(form.kind, form.room, _shape(form, typed), new=form.new)
    if form.kind == "container" and form.new:
        groups = (*groups, Group("many", _("Many alike"), (count_field(),)))
    return groups


def values_of(form: Form, typed: Typed) -> dict[str, object]:
    """What was typed as the table of a fleet file; a slug that was left empty is made from the name."""
    there = to_values(form.one) if form.one is not None else {}
    values = read([field for field in all_fields(groups_of(form, typed)) if field.name != "count"], typed, there)
    if form.kind == "reservoir":
        values |= hidden_keys(_shape(form, typed))
    if form.new:
        values["slug"] = values.get("slug") or slug_from(str(values.get("name") or "")) or None
    return values


def tables_of(form: Form, typed: Typed) -> list[dict[str, object]]:
    """Tables of one new thing, or of many alike with numbers behind their names. Raises InputError."""
    values = values_of(form, typed)
    count = number(typed.get("count", "")) or 1
    if count == 1 or form.room is None:
        return [values]
    if not isinstance(count, int) or not 1 <= count <= MOST_AT_ONCE:
        raise InputError(
            f"{form.where}: count",
            count,
            _("a whole number from %(low)s to %(high)s", low=1, high=MOST_AT_ONCE),
        )
    name = str(values.get("name") or "")
    slug = typed.get("slug", "").strip() or slug_from(name)
    taken = [
        int(found[1]) for one in form.room.containers if (found := re.fullmatch(rf"{re.escape(slug)}-(\d+)", one.slug))
    ]
    first = max(taken, default=0) + 1
    digits = max(2, len(str(first + count - 1)))
    return [
        values | {"name": f"{name} {n:0{digits}d}", "slug": f"{slug}-{n:0{digits}d}"}
        for n in range(first, first + count)
    ]


def show_form(
    request: Request, call: Call, form: Form, typed: Typed | None = None, error: InputError | None = None
) -> Response:
    """The form as it is stored, or as it was typed and with what is wrong about it."""
    given = dict(typed or {})
    groups = groups_of(form, given)
    there = shown(to_values(form.one)) if form.one is not None else {}
    there |= {"name": form.one.name} if form.one is not None and hasattr(form.one, "name") else {}
    # What is not given is as it would be taken: nothing chosen, and the number that a file would leave out.
    empty = {field.name: field.value if field.kind == "number" else "" for field in all_fields(groups)}
    texts = {**empty, **there, **given} if typed or there else {}
    fields, others = told(error, {field.name for field in all_fields(groups)}, form.where, given) if error else ({}, ())
    shape = _shape(form, given)
    groups = filled(groups, texts | ({"shape": shape} if form.kind == "reservoir" else {}), fields)
    level = given.get("level", "") if given else _level_now(call, form)
    page = FormPage(
        crumbs=crumbs(form.facility, form.room),
        title=_title(form),
        groups=groups,
        errors=others,
        action=request.url.path,
        button=_("Save") if not form.new else ADD[form.kind],
        back=form.here,
        remove="" if form.new else _remove(form, request),
        level=level,
        known=given.get("known", ""),
        volume_unit=volume_unit().name,
        check=_check(form, groups, given | {"level": level}),
    )
    return show(request, call, "set_up_form.html", page, status=422 if error else 200)


def save(request: Request, call: Call, form: Form, typed: Typed, to: str) -> Response:
    """Change what the form is of, and lead on; or show what is wrong."""
    assert form.facility is not None
    values = values_of(form, typed)
    try:
        changing.change_place(call, form.facility, lambda there: edit(there, form.place, values), form.place.in_room)
    except InputError as error:
        return show_form(request, call, form, typed, error)
    return go(to)


def ask_removal(
    request: Request, call: Call, form: Form, follows: tuple[str, ...], back: str, refused: str = ""
) -> Response:
    """The question before what the form is of is taken out of use."""
    title = _("Take %(name)s out of use?", name=_title(form))
    page = RemovePage(crumbs(form.facility, form.room), title, follows, request.url.path, back, refused)
    return show(request, call, "set_up_remove.html", page)


def crumbs(facility: Visible | None, room: DeclaredRoom | None = None) -> tuple[Crumb, ...]:
    """The way back to the facility and the room."""
    found = [Crumb(_("Set-up"), "/set-up")]
    if facility is not None:
        found.append(Crumb(facility.name, f"/set-up/{facility.slug}"))
        if room is not None:
            found.append(Crumb(room.name, f"/set-up/{facility.slug}/rooms/{room.slug}"))
    return tuple(found)


def managed(call: Call, slug: str) -> Visible:
    """A facility that the visitor may set up; 404 where it may not be seen, else 403."""
    return call.require(call.facility(slug).id, "set up")


def facility_with(call: Call, facility: Visible, rooms: list[str] | None) -> DeclaredFacility:
    """A facility as it is declared, with these rooms of it, or all."""
    with call.web.connection() as conn:
        found = fleet.declared(conn, [facility.slug], rooms)
    if not found:
        raise not_found(N_("facility"))
    return found[0]


def room_of(call: Call, facility: Visible, slug: str) -> DeclaredRoom:
    """A room as it is declared; 404 where there is none."""
    rooms = facility_with(call, facility, [slug]).rooms
    if not rooms:
        raise not_found(N_("room"))
    return rooms[0]


def part_of(room: DeclaredRoom, kind: str, slug: str) -> Declared:
    """A reservoir, line or container of a room; 404 where there is none."""
    parts: Mapping[str, tuple[Declared, ...]] = {
        "reservoir": room.reservoirs,
        "line": room.lines,
        "container": room.containers,
    }
    for one in parts.get(kind, ()):
        if one.slug == slug:
            return one
    raise not_found(N_("part"))


def _shape(form: Form, typed: Typed) -> str:
    there = form.one.shape if isinstance(form.one, DeclaredReservoir) else SHAPES[0]
    given = typed.get("shape", there)
    return given if given in SHAPES else there


def _title(form: Form) -> str:
    if form.new:
        return NEW[form.kind]
    return getattr(form.one, "name", form.place.slug)


def _level_now(call: Call, form: Form) -> str:
    """Where water stands in a reservoir by its sensor, in mm above the bottom; empty where nothing tells."""
    if not isinstance(form.one, DeclaredReservoir) or form.one.level is None or form.facility is None:
        return ""
    with call.web.connection() as conn:
        found = pages.channels_named(conn, form.one.level, [form.facility.id], call.now)
    if not found or found[0].last_value is None:
        return ""
    return f"{found[0].last_value + form.one.sensor_zero_mm:.0f}"


def _remove(form: Form, request: Request) -> str:
    path = request.url.path
    return f"{path.removesuffix('/edit')}/remove"


def _check(form: Form, groups: tuple[Group, ...], typed: Typed) -> TankCheck | None:
    if form.kind != "reservoir":
        return None
    fields = all_fields(groups)
    values = read(fields, {field.name: field.value for field in fields})
    known = inside("volume_l", number(typed.get("known", "")))
    return tank_check(_shape(form, typed), values, number(typed.get("level", "")), known)

"""What stands in a room, with what measures each part, for the page that sets it up.

Not here: what the room is like now (`web.views.room`).
"""

from __future__ import annotations

from dataclasses import dataclass

from wickwatch.agronomy.tank import tank_from_keys
from wickwatch.errors import InputError
from wickwatch.fleet.declared import (
    CHANNEL_FIELDS,
    DeclaredContainer,
    DeclaredLine,
    DeclaredReservoir,
    DeclaredRoom,
)
from wickwatch.store.people import Visible
from wickwatch.texts import N_, Words, _, general, time_of_day, volume, volume_unit
from wickwatch.web.views.part_fields import LINE_KINDS, SHAPES


@dataclass(frozen=True)
class PartLine:
    """One part: what it is like, and the channels that measure it."""

    name: str
    href: str
    said: str
    channels: tuple[str, ...]
    unmeasured: str


@dataclass(frozen=True)
class PartList:
    """All parts of one kind; `next` where the room lacks them, and they come next."""

    kind: str
    heading: str
    add: str
    lines: tuple[PartLine, ...]
    why: str
    next: bool


@dataclass(frozen=True)
class SetUpRoomPage:
    """A room's set-up."""

    facility: Visible
    slug: str
    name: str
    light: str
    channels: tuple[str, ...]
    lists: tuple[PartList, ...]
    done: bool


def page(facility: Visible, room: DeclaredRoom) -> SetUpRoomPage:
    """The page."""
    here = f"/set-up/{facility.slug}/rooms/{room.slug}"
    lines = {one.slug: one.name for one in room.lines}
    tanks = {one.slug: one.name for one in room.reservoirs}
    found = {
        "reservoir": [_part(here, "reservoir", one, _tank(one)) for one in room.reservoirs],
        "line": [_part(here, "line", one, _line(one, tanks)) for one in room.lines],
        "container": [_part(here, "container", one, _container(one, lines)) for one in room.containers],
    }
    lacking = next((kind for kind, parts in found.items() if not parts), "")
    lists = tuple(
        PartList(
            kind, _HEADINGS[kind], _add(kind, bool(parts), kind == lacking), tuple(parts), _WHY[kind], kind == lacking
        )
        for kind, parts in found.items()
    )
    light = _("Light from %(on)s to %(off)s", on=time_of_day(room.lights_on), off=time_of_day(room.lights_off))
    return SetUpRoomPage(facility, room.slug, room.name, light, _channels("room", room), lists, not lacking)


_HEADINGS = Words({"reservoir": N_("Reservoirs"), "line": N_("Supply lines"), "container": N_("Containers")})
_WHY = Words(
    {
        "reservoir": N_("The tank that feeds the room by gravity. Its shape turns a level into a volume."),
        "line": N_("The tubing from the reservoir. When one starves, its containers dry together."),
        "container": N_(
            "Pots and beds. Number them along their line, the nearest to the reservoir first: then an alarm can say"
            " where the water stops. Each with a probe is watched; others can be spoken for by one like them."
        ),
    }
)

_NEXT = Words(
    {
        "reservoir": N_("Next: add a reservoir"),
        "line": N_("Next: add a supply line"),
        "container": N_("Next: add a container"),
    }
)
_ANOTHER = Words(
    {
        "reservoir": N_("Add another reservoir"),
        "line": N_("Add another supply line"),
        "container": N_("Add another container"),
    }
)
_FIRST = Words(
    {"reservoir": N_("Add a reservoir"), "line": N_("Add a supply line"), "container": N_("Add a container")}
)


def _add(kind: str, some: bool, next: bool) -> str:
    """The words that lead to the form of one more."""
    return _NEXT[kind] if next else _ANOTHER[kind] if some else _FIRST[kind]


_Part = DeclaredReservoir | DeclaredLine | DeclaredContainer


def _part(here: str, kind: str, one: _Part, said: str) -> PartLine:
    channels = _channels(kind, one)
    lacking = {"reservoir": _("no level sensor"), "container": _("no probe")}.get(kind, "")
    counted = any(name.endswith((":level", ":tension")) for name in channels)
    return PartLine(one.name, f"{here}/{kind}/{one.slug}", said, channels, "" if counted else lacking)


def _channels(kind: str, one: _Part | DeclaredRoom) -> tuple[str, ...]:
    return tuple(name for key in CHANNEL_FIELDS[kind] if (name := getattr(one, key)) is not None)


def _tank(one: DeclaredReservoir) -> str:
    try:
        tank = tank_from_keys(one.shape, one.keys)
        full = volume(tank.full_l)
    except InputError:
        return SHAPES[one.shape]
    return _(
        "%(volume)s, %(shape)s, %(height)s mm high",
        volume=full,
        shape=SHAPES[one.shape],
        height=general(tank.height_mm),
    )


def _line(one: DeclaredLine, tanks: dict[str, str]) -> str:
    fed = _("fed by no reservoir known here")
    if one.reservoir in tanks:
        fed = _("fed by %(name)s", name=tanks[one.reservoir])
    return f"{LINE_KINDS[one.kind].partition(',')[0]}, {fed}"


def _container(one: DeclaredContainer, lines: dict[str, str]) -> str:
    unit = volume_unit()
    said = [f"{general(unit.shown(one.volume_l))} {unit.name}" if one.volume_l else "", one.medium or ""]
    said.append(_("on %(name)s", name=lines[one.line]) if one.line in lines else _("on no line"))
    if one.stands_for > 1:
        said.append(_("speaks for %(num)s", num=one.stands_for))
    return ", ".join(part for part in said if part)

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
from wickwatch.web.views import words
from wickwatch.web.views.part_fields import CALLED, LINE_KINDS, SHAPES
from wickwatch.web.views.set_up import clock


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
    called: str
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
        PartList(kind, _HEADINGS[kind], CALLED[kind], tuple(parts), _WHY[kind], kind == lacking)
        for kind, parts in found.items()
    )
    light = f"Light from {clock(room.lights_on)} to {clock(room.lights_off)}"
    return SetUpRoomPage(facility, room.slug, room.name, light, _channels("room", room), lists, not lacking)


_HEADINGS = {"reservoir": "Reservoirs", "line": "Supply lines", "container": "Containers"}
_WHY = {
    "reservoir": "The tank that feeds the room by gravity. Its shape turns a level into litres.",
    "line": "The tubing from the reservoir. When one starves, its containers dry together.",
    "container": "Pots and beds. Each with a probe is watched; others can be spoken for by one like them.",
}

_Part = DeclaredReservoir | DeclaredLine | DeclaredContainer


def _part(here: str, kind: str, one: _Part, said: str) -> PartLine:
    channels = _channels(kind, one)
    lacking = {"reservoir": "no level sensor", "container": "no probe"}.get(kind, "")
    counted = any(name.endswith((":level", ":tension")) for name in channels)
    return PartLine(one.name, f"{here}/{kind}/{one.slug}", said, channels, "" if counted else lacking)


def _channels(kind: str, one: _Part | DeclaredRoom) -> tuple[str, ...]:
    return tuple(name for key in CHANNEL_FIELDS[kind] if (name := getattr(one, key)) is not None)


def _tank(one: DeclaredReservoir) -> str:
    try:
        tank = tank_from_keys(one.shape, one.keys)
        full = words.litres(tank.full_l)
    except InputError:
        return SHAPES[one.shape]
    return f"{full}, {SHAPES[one.shape]}, {tank.height_mm:g} mm high"


def _line(one: DeclaredLine, tanks: dict[str, str]) -> str:
    fed = f"fed by {tanks[one.reservoir]}" if one.reservoir in tanks else "fed by no reservoir known here"
    return f"{LINE_KINDS[one.kind].partition(',')[0]}, {fed}"


def _container(one: DeclaredContainer, lines: dict[str, str]) -> str:
    said = [f"{one.volume_l:g} l" if one.volume_l else "", one.medium or ""]
    said.append(f"on {lines[one.line]}" if one.line in lines else "on no line")
    if one.stands_for > 1:
        said.append(f"speaks for {one.stands_for}")
    return ", ".join(part for part in said if part)

"""What must change for a facility to become what is declared: an ordered list, pure and readable.

Not here: doing it (`store.fleet`). Both sides are in the declared shape, so that this knows no ids and no database.

What is not declared is retired, and only inside the facilities that are declared; nothing is ever deleted. A slug that
comes back after it was retired is the same thing again, and its history goes on. A channel that moves is detached and
attached at the same moment.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Literal, TypeVar

from wickwatch.fleet.declared import (
    CHANNEL_FIELDS,
    Declared,
    DeclaredFacility,
    DeclaredRoom,
    attached,
)
from wickwatch.fleet.writing import TABLES, text_of

Action = Literal["detach", "retire", "add", "change", "attach"]

#: Order in which changes are made: a channel is free before it is attached, a room is there before its pots.
ACTIONS: tuple[Action, ...] = ("detach", "retire", "add", "change", "attach")
KINDS = ("facility", "gateway", "room", "reservoir", "line", "container")

_D = TypeVar("_D", bound=Declared)


@dataclass(frozen=True)
class Place:
    """Where something stands, by slugs; `kind` is its type of subject and `slug` its own."""

    kind: str
    facility: str
    room: str | None
    slug: str

    @property
    def in_room(self) -> str | None:
        """The slug of the room that it is or stands in."""
        return self.slug if self.kind == "room" else self.room

    def __str__(self) -> str:
        above = [f"facility {self.facility}", f"room {self.room}" if self.room is not None else ""]
        own = f"{self.kind} {self.slug}"
        return ", ".join(dict.fromkeys([*filter(None, above), own]))


@dataclass(frozen=True)
class Change:
    """One change. `declared` is what shall be there (add, change); `channel` and `field` are for attach and detach.

    `old` and `new` hold the values that differ, by field, where something changes.
    """

    action: Action
    place: Place
    declared: Declared | None = None
    old: Mapping[str, object] | None = None
    new: Mapping[str, object] | None = None
    field: str = ""
    channel: str = ""

    def __str__(self) -> str:
        if self.action == "attach":
            return f"attach  {self.channel} to {self.place} as {self.field}"
        if self.action == "detach":
            return f"detach  {self.channel} from {self.place}"
        if self.action == "change" and self.old is not None and self.new is not None:
            parts = (f"{key} {text_of(self.old[key])} → {text_of(value)}" for key, value in self.new.items())
            return f"change  {self.place}: " + ", ".join(parts)
        return f"{self.action:7} {self.place}"


def difference(wanted: Sequence[DeclaredFacility], present: Sequence[DeclaredFacility]) -> list[Change]:
    """Changes that turn `present` into `wanted`, in the order in which they can be made; empty where they agree.

    Facilities that are present and not wanted are left alone: a fleet file may describe one of several.
    """
    there = {facility.slug: facility for facility in present}
    changes: list[Change] = []
    for facility in wanted:
        changes += _facility(facility, there.get(facility.slug))
    return sorted(changes, key=_order)


def _order(change: Change) -> tuple[int, int]:
    depth = KINDS.index(change.place.kind)
    # What is inside goes before what it is inside of; what is added comes after it.
    return ACTIONS.index(change.action), -depth if change.action == "retire" else depth


def _facility(wanted: DeclaredFacility, present: DeclaredFacility | None) -> Iterator[Change]:
    slug = wanted.slug
    yield from _one(Place("facility", slug, None, slug), wanted, present)
    yield from _group("gateway", slug, None, wanted.gateways, () if present is None else present.gateways)
    rooms = () if present is None else present.rooms
    yield from _group("room", slug, None, wanted.rooms, rooms)
    there = {room.slug: room for room in rooms}
    kept = {room.slug: room for room in wanted.rooms}
    for room in dict.fromkeys([*kept, *there]):
        yield from _contents(slug, room, kept.get(room), there.get(room))
    yield from _channels(slug, wanted, present)


def _contents(facility: str, room: str, wanted: DeclaredRoom | None, present: DeclaredRoom | None) -> Iterator[Change]:
    for kind, name in (("reservoir", "reservoirs"), ("line", "lines"), ("container", "containers")):
        yield from _group(kind, facility, room, getattr(wanted, name, ()), getattr(present, name, ()))


def _group(kind: str, facility: str, room: str | None, wanted: Iterable[_D], present: Iterable[_D]) -> Iterator[Change]:
    there = {one.slug: one for one in present}
    for one in wanted:
        yield from _one(Place(kind, facility, room, one.slug), one, there.pop(one.slug, None))
    for slug in there:
        yield Change("retire", Place(kind, facility, room, slug))


def _one(place: Place, wanted: Declared, present: Declared | None) -> Iterator[Change]:
    if present is None:
        yield Change("add", place, wanted)
        return
    skipped = {*TABLES, *CHANNEL_FIELDS[place.kind]}
    old: dict[str, object] = {}
    new: dict[str, object] = {}
    for field in fields(wanted):
        before, after = getattr(present, field.name), getattr(wanted, field.name)
        if field.name not in skipped and before != after:
            old[field.name], new[field.name] = before, after
    if new:
        yield Change("change", place, wanted, old, new)


def _channels(slug: str, wanted: DeclaredFacility, present: DeclaredFacility | None) -> Iterator[Change]:
    after = _attachments(slug, wanted)
    before = {} if present is None else _attachments(slug, present)
    for (place, field), channel in before.items():
        if after.get((place, field)) != channel:
            yield Change("detach", place, field=field, channel=channel)
    for (place, field), channel in after.items():
        if before.get((place, field)) != channel:
            yield Change("attach", place, field=field, channel=channel)


def _attachments(slug: str, facility: DeclaredFacility) -> dict[tuple[Place, str], str]:
    return {
        (Place(kind, slug, None if kind == "room" else room, subject.slug), field): channel
        for room, kind, subject, field, channel in attached(facility)
    }

"""What is set up in a facility and what comes next, in the order in which it is built.

Not here: the forms (`web.views.part_fields`), or channels (`web.views.set_up_channels`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time
from zoneinfo import ZoneInfo

from wickwatch.store.pages.set_up import GatewayRow, RoomCounts
from wickwatch.store.people import Visible
from wickwatch.web.views import words
from wickwatch.web.views.part_fields import CALLED
from wickwatch.web.views.times import ago
from wickwatch.web.views.watching import Banner


@dataclass(frozen=True)
class Step:
    """One step of the guide; `said` is what there is of it, `href` leads to where it is done."""

    title: str
    said: str
    href: str
    button: str
    done: bool
    next: bool = False


@dataclass(frozen=True)
class RoomLine:
    """One room: what stands in it, and what of that is not measured yet."""

    name: str
    href: str
    light: str
    holds: str
    unmeasured: str


@dataclass(frozen=True)
class GatewayLine:
    """One gateway; `expected` where somebody said that it should be heard."""

    slug: str
    expected: bool
    heard: str


@dataclass(frozen=True)
class SetUpPage:
    """A facility's set-up."""

    facility: Visible
    steps: tuple[Step, ...]
    rooms: tuple[RoomLine, ...]
    gateways: tuple[GatewayLine, ...]
    waiting: int
    banners: tuple[Banner, ...]

    @property
    def whole(self) -> bool:
        """Whether every step of the guide is done."""
        return all(step.done for step in self.steps)


def page(
    facility: Visible,
    rooms: Sequence[RoomCounts],
    gateways: Sequence[GatewayRow],
    waiting: int,
    callable_people: int,
    banners: Sequence[Banner],
    now: datetime,
) -> SetUpPage:
    """The page; `waiting` channels are attached to nothing, `callable_people` can be reached."""
    return SetUpPage(
        facility=facility,
        steps=steps(facility, rooms, gateways, waiting, callable_people, now),
        rooms=tuple(_room(facility, one) for one in rooms),
        gateways=tuple(GatewayLine(one.slug, one.declared, _heard(one, now)) for one in gateways),
        waiting=waiting,
        banners=tuple(banners),
    )


def steps(
    facility: Visible,
    rooms: Sequence[RoomCounts],
    gateways: Sequence[GatewayRow],
    waiting: int,
    callable_people: int,
    now: datetime,
) -> tuple[Step, ...]:
    """The way to the first watched room; the first step that is not done is the next."""
    here = f"/set-up/{facility.slug}"
    heard = [one for one in gateways if one.heard_at is not None]
    found = [
        Step(
            "The facility", f"{facility.name}, clock of {ZoneInfo(facility.zone).key}", f"{here}/edit", "Change", True
        ),
        Step(
            "A room and its light",
            words.number(len(rooms), "room") if rooms else "Where plants stand under the same lamps.",
            f"{here}/add-room",
            "Add a room" if not rooms else "Add another",
            bool(rooms),
        ),
        _of_rooms(here, rooms, "reservoir", "A reservoir", "The tank that feeds it: its shape tells how much is left."),
        _of_rooms(here, rooms, "line", "A supply line", "The tubing from the reservoir to the containers."),
        _of_rooms(here, rooms, "container", "Containers", "Pots and beds; many alike are added at once."),
        Step(
            "Readings arrive",
            f"{_named(heard)} heard {_heard(max(heard, key=lambda one: one.heard_at or now), now)}"
            if heard
            else f"Let your gateway publish to wickwatch/1/{facility.slug}/gw-01/senml.",
            f"{here}#gateways",
            "Gateways",
            bool(heard),
        ),
        _probes(here, rooms, waiting),
        Step(
            "Somebody is called",
            f"{words.number(callable_people, 'person', 'people')} can be reached"
            if callable_people
            else "Nobody with a role here can be reached yet.",
            f"{here}/people",
            "People",
            bool(callable_people),
        ),
    ]
    following = next((number for number, step in enumerate(found) if not step.done), None)
    return tuple(replace(step, next=number == following) for number, step in enumerate(found))


_COUNTS = {"reservoir": "reservoirs", "line": "lines", "container": "containers"}


def _of_rooms(here: str, rooms: Sequence[RoomCounts], kind: str, title: str, why: str) -> Step:
    """A step that is done once every room has such a thing; it leads to the first room without."""
    count = sum(getattr(room, _COUNTS[kind]) for room in rooms)
    without = [room for room in rooms if not getattr(room, _COUNTS[kind])]
    said = why
    if count:
        said = words.number(count, CALLED[kind])
        if without:
            said += f"; {words.names([room.name for room in without])} without one"
    target = without[0] if without else rooms[0] if rooms else None
    href = f"{here}/add-room" if target is None else f"{here}/rooms/{target.slug}/add/{kind}"
    return Step(title, said, href, "Add one" if not count else "Add another", bool(rooms) and not without)


def _probes(here: str, rooms: Sequence[RoomCounts], waiting: int) -> Step:
    containers, probes = sum(room.containers for room in rooms), sum(room.probes for room in rooms)
    said = "Choose for each what it measures."
    if probes:
        said = f"{probes} of {words.number(containers, 'container')} have a probe"
    if waiting:
        said += (
            f" {words.number(waiting, 'channel')} heard and attached to nothing."
            if not probes
            else (f"; {words.number(waiting, 'channel')} attached to nothing")
        )
    return Step("Probes are attached", said, f"{here}/channels", "Channels", bool(probes))


def _room(facility: Visible, room: RoomCounts) -> RoomLine:
    holds = [
        words.number(room.reservoirs, "reservoir"),
        words.number(room.lines, "supply line"),
        words.number(room.containers, "container"),
    ]
    lacking = []
    if room.containers > room.probes:
        lacking.append(f"{words.number(room.containers - room.probes, 'container')} without a probe")
    if room.reservoirs > room.levels:
        lacking.append(f"{words.number(room.reservoirs - room.levels, 'reservoir')} without a level sensor")
    light = f"light {clock(room.lights_on)} to {clock(room.lights_off)}"
    href = f"/set-up/{facility.slug}/rooms/{room.slug}"
    return RoomLine(room.name, href, light, ", ".join(holds), ", ".join(lacking))


def clock(at: time) -> str:
    """A time of day."""
    return at.isoformat("minutes")


def _named(gateways: Sequence[GatewayRow]) -> str:
    return words.names([one.slug for one in gateways])


def _heard(gateway: GatewayRow, now: datetime) -> str:
    return "not heard yet" if gateway.heard_at is None else ago(gateway.heard_at, now)

"""What is set up in a facility and what comes next, in the order in which it is built.

Not here: the forms (`web.views.part_fields`), or channels (`web.views.set_up_channels`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from zoneinfo import ZoneInfo

from wickwatch.store.pages.set_up import GatewayRow, RoomCounts
from wickwatch.store.people import Visible
from wickwatch.texts import _, ngettext, time_of_day
from wickwatch.web.views import words
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
    here, topic = f"/set-up/{facility.slug}", f"wickwatch/1/{facility.slug}/gw-01/senml"
    heard = [one for one in gateways if one.heard_at is not None]
    found = [
        Step(
            _("The facility"),
            _("%(name)s, clock of %(zone)s", name=facility.name, zone=ZoneInfo(facility.zone).key),
            f"{here}/edit",
            _("Change"),
            True,
        ),
        Step(
            _("A room and its light"),
            ngettext("%(num)s room", "%(num)s rooms", len(rooms))
            if rooms
            else _("Where plants stand under the same lamps."),
            f"{here}/add-room",
            _("Add a room") if not rooms else _("Add another"),
            bool(rooms),
        ),
        _of_rooms(
            here, rooms, "reservoir", _("A reservoir"), _("The tank that feeds it: its shape tells how much is left.")
        ),
        _of_rooms(here, rooms, "line", _("A supply line"), _("The tubing from the reservoir to the containers.")),
        _of_rooms(here, rooms, "container", _("Containers"), _("Pots and beds; many alike are added at once.")),
        Step(
            _("Readings arrive"),
            _(
                "%(names)s heard %(ago)s",
                names=_named(heard),
                ago=_heard(max(heard, key=lambda one: one.heard_at or now), now),
            )
            if heard
            else _("Let your gateway publish to %(topic)s.", topic=topic),
            f"{here}#gateways",
            _("Gateways"),
            bool(heard),
        ),
        _probes(here, rooms, waiting),
        Step(
            _("Somebody is called"),
            ngettext("%(num)s person can be reached", "%(num)s people can be reached", callable_people)
            if callable_people
            else _("Nobody with a role here can be reached yet."),
            f"{here}/people",
            _("People"),
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
        said = counted(kind, count)
        if without:
            said += _("; %(names)s without one", names=words.names([room.name for room in without]))
    target = without[0] if without else rooms[0] if rooms else None
    href = f"{here}/add-room" if target is None else f"{here}/rooms/{target.slug}/add/{kind}"
    return Step(title, said, href, _("Add one") if not count else _("Add another"), bool(rooms) and not without)


def _probes(here: str, rooms: Sequence[RoomCounts], waiting: int) -> Step:
    containers, probes = sum(room.containers for room in rooms), sum(room.probes for room in rooms)
    said = _("Choose for each what it measures.")
    if probes:
        said = ngettext(
            "%(probes)s of %(num)s container has a probe",
            "%(probes)s of %(num)s containers have a probe",
            containers,
            probes=probes,
        )
    if waiting:
        said += (
            ngettext("; %(num)s channel attached to nothing", "; %(num)s channels attached to nothing", waiting)
            if probes
            else " "
            + ngettext(
                "%(num)s channel heard and attached to nothing.",
                "%(num)s channels heard and attached to nothing.",
                waiting,
            )
        )
    return Step(_("Probes are attached"), said, f"{here}/channels", _("Channels"), bool(probes))


def _room(facility: Visible, room: RoomCounts) -> RoomLine:
    holds = [
        counted("reservoir", room.reservoirs),
        counted("line", room.lines),
        counted("container", room.containers),
    ]
    lacking = []
    if room.containers > room.probes:
        without = room.containers - room.probes
        lacking.append(ngettext("%(num)s container without a probe", "%(num)s containers without a probe", without))
    if room.reservoirs > room.levels:
        without = room.reservoirs - room.levels
        lacking.append(
            ngettext("%(num)s reservoir without a level sensor", "%(num)s reservoirs without a level sensor", without)
        )
    light = _("light %(on)s to %(off)s", on=time_of_day(room.lights_on), off=time_of_day(room.lights_off))
    href = f"/set-up/{facility.slug}/rooms/{room.slug}"
    return RoomLine(room.name, href, light, ", ".join(holds), ", ".join(lacking))


def counted(kind: str, count: int) -> str:
    """So many things of a kind."""
    if kind == "reservoir":
        return ngettext("%(num)s reservoir", "%(num)s reservoirs", count)
    if kind == "line":
        return ngettext("%(num)s supply line", "%(num)s supply lines", count)
    return ngettext("%(num)s container", "%(num)s containers", count)


def _named(gateways: Sequence[GatewayRow]) -> str:
    return words.names([one.slug for one in gateways])


def _heard(gateway: GatewayRow, now: datetime) -> str:
    return _("not heard yet") if gateway.heard_at is None else ago(gateway.heard_at, now)

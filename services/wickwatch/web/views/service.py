"""What of a room is out of service, and the form that takes a part of it out.

Not here: what being out of service means for alarms (`alarms.service`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from wickwatch.store.service import Device, Listed
from wickwatch.texts import N_, _
from wickwatch.web.views import words
from wickwatch.web.views.state import RoomState
from wickwatch.web.views.times import Moment, moment
from wickwatch.web.views.work import Choice

#: For how long, in hours, by what that is called; a day or two are most maintenance.
HOURS: Mapping[int, str] = {
    1: N_("1 hour"),
    4: N_("4 hours"),
    12: N_("12 hours"),
    24: N_("1 day"),
    72: N_("3 days"),
    168: N_("1 week"),
    672: N_("4 weeks"),
}
_USUAL_HOURS = 4


@dataclass(frozen=True)
class Out:
    """One part out of service."""

    id: UUID
    what: str
    until: Moment
    person: str
    note: str


@dataclass(frozen=True)
class ServicePart:
    """The room's part of the page; `choices` are what may be taken out, empty for who may not."""

    out: tuple[Out, ...]
    choices: tuple[tuple[str, tuple[Choice, ...]], ...]
    hours: tuple[Choice, ...]
    usual: str


def service_part(
    state: RoomState, periods: Sequence[Listed], devices: Sequence[Device], now: datetime, may_act: bool
) -> ServicePart:
    """What is out of service in a room, and what may be taken out."""
    return ServicePart(
        out=tuple(_out(each, devices, state, now) for each in periods),
        choices=_choices(state, devices) if may_act else (),
        hours=tuple(Choice(str(hours), _(label)) for hours, label in HOURS.items()),
        usual=str(_USUAL_HOURS),
    )


def name_of(listed: Listed, state: RoomState) -> str:
    """What people call a part that is out of service; a device by what it measures."""
    period = listed.period
    if period.type != "device":
        return f"{words.THINGS[period.type]} {period.name}"
    rows = [(each.row.id, each.row.name) for each in state.containers]
    rows += [(each.row.id, each.row.name) for each in state.reservoirs]
    measured = next((name for id, name in rows if id in listed.measures), None)
    if measured:
        return _("the probe of %(name)s", name=measured)
    return _("the device %(number)s", number=period.name[-6:])


def _out(listed: Listed, devices: Sequence[Device], state: RoomState, now: datetime) -> Out:
    period = listed.period
    name = next((_device(each) for each in devices if each.urn == period.name), period.name)
    thing = words.SUBJECTS[period.type] if period.type in words.SUBJECTS else _("Probe or sensor")
    what = f"{thing} {name}"
    if period.type == "room":
        what = _("All of %(name)s", name=name)
    return Out(period.id, what, moment(period.until, state.zone, now), listed.person or "", period.note)


def _choices(state: RoomState, devices: Sequence[Device]) -> tuple[tuple[str, tuple[Choice, ...]], ...]:
    groups = {
        _("Containers"): [Choice(f"container:{one.row.id}", one.row.name) for one in state.containers],
        _("Supply lines, with their containers"): [Choice(f"line:{one.id}", one.name) for one in state.lines],
        _("Reservoirs, with their lines"): [
            Choice(f"reservoir:{one.row.id}", one.row.name) for one in state.reservoirs
        ],
        _("Probes and level sensors"): [Choice(f"device:{one.urn}", _device(one)) for one in devices],
        _("Room"): [Choice(f"room:{state.row.id}", _("all of %(name)s", name=state.row.name))],
    }
    return tuple((label, tuple(found)) for label, found in groups.items() if found)


def _device(device: Device) -> str:
    """What it measures, and the end of its number, as it is printed on it."""
    return f"{device.measures} ({device.urn[-6:]})"

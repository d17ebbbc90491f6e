"""One room of the status page: what is wrong in words, its tensions, its water, what is out of service.

Not here: the page around it (`status`), or HTML.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from wickwatch.store.pages import AlarmRow
from wickwatch.texts import _, ngettext, number, tension, tension_unit
from wickwatch.web.views import words
from wickwatch.web.views.scale import Scale, scale
from wickwatch.web.views.service import name_of
from wickwatch.web.views.state import ContainerState, RoomState
from wickwatch.web.views.times import ago, moment
from wickwatch.web.views.trouble import ASKING, Trouble, trouble
from wickwatch.web.views.water import Water, water

_RANK = {"high": 0, "medium": 1, "low": 2}


@dataclass(frozen=True)
class Card:
    """One room on the page.

    `in_band` is how much of the last day it was in its band, `out` what of it is out of service; both may be empty.
    """

    id: UUID
    name: str
    facility: str
    facility_slug: str
    need: str
    priority: str
    troubles: tuple[Trouble, ...]
    more_troubles: int
    explained: int
    shelved: int
    scale: Scale | None
    outside: str
    spread: str
    unheard: str
    water: tuple[Water, ...]
    lights: str
    lit: bool
    heard: str
    in_band: str
    out: str
    order: tuple[object, ...] = field(repr=False, default=())


def card(state: RoomState, now: datetime) -> Card:
    """One room."""
    open_ = [alarm for alarm in state.alarms if alarm.state in ASKING]
    unanswered = [alarm for alarm in open_ if alarm.state != "acknowledged"]
    first = next(iter(unanswered or open_), None)
    unit = tension_unit()
    silent, unread = len(state.at("silent")), len(state.at("unread"))
    read = [c.row.tension_mbar for c in state.containers if _speaks(c) and c.row.tension_mbar is not None]
    unheard = [ngettext("%(num)s not heard lately", "%(num)s not heard lately", silent)] if silent else []
    unheard += [ngettext("%(num)s never read", "%(num)s never read", unread)] if unread and state.heard_at else []
    return Card(
        id=state.row.id,
        name=state.row.name,
        facility=state.row.facility_name,
        facility_slug=state.row.facility_slug,
        need=state.need,
        priority=first.priority if first else "",
        troubles=tuple(trouble(alarm, state.zone, now) for alarm in open_[:3]),
        more_troubles=max(len(open_) - 3, 0),
        explained=sum(alarm.state == "suppressed-by-design" for alarm in state.alarms),
        shelved=sum(alarm.state in ("shelved", "out-of-service") for alarm in state.alarms),
        scale=scale(state.containers),
        outside=_outside(state),
        spread=f"{unit.number(min(read))}–{tension(max(read))}" if read else "",
        unheard=", ".join(unheard),
        water=tuple(water(reservoir, state.zone, now) for reservoir in state.reservoirs),
        lights=state.lights,
        lit=state.lit(now),
        heard=ago(state.heard_at, now) if state.heard_at else _("never"),
        in_band="" if state.in_band is None else percent(state.in_band),
        out=_out(state, now),
        order=_order(state, first),
    )


def percent(share: float) -> str:
    """A share (0 to 1) as it is read: never 100 % where something is missing."""
    return f"{int(100.0 * share)} %" if share > 0.99 else f"{number(100.0 * share)} %"


def _speaks(container: ContainerState) -> bool:
    return container.place != "silent" and not container.out


def _out(state: RoomState, now: datetime) -> str:
    """What is out of service until when, what ends first first."""
    if not state.out:
        return ""
    whole = next((each for each in state.out if each.period.type == "room"), None)
    if whole is not None:
        return _("Out of service until %(at)s", at=moment(whole.period.until, state.zone, now).text)
    first = state.out[0].period
    names = words.names([name_of(each, state) for each in state.out])
    at = moment(first.until, state.zone, now).text
    if len(state.out) > 1:
        return _("Out of service: %(names)s, the first until %(at)s", names=names, at=at)
    return _("Out of service: %(names)s, until %(at)s", names=names, at=at)


def _outside(state: RoomState) -> str:
    """Containers outside their band by name, the farthest first."""
    told = []
    unit = tension_unit()
    for place in ("dry", "wet"):
        found = state.at("dry" if place == "dry" else "wet")
        if found:
            listed = [f"{c.row.name} {unit.number(c.row.tension_mbar or 0.0)}" for c in found]
            names = words.names(listed)
            told.append(_("dry: %(names)s", names=names) if place == "dry" else _("wet: %(names)s", names=names))
    return "; ".join(told)


def _order(state: RoomState, first: AlarmRow | None) -> tuple[object, ...]:
    """Sorts rooms of one need: by priority, the longest waiting first, then by name with numbers as numbers."""
    name = tuple((int(part), "") if part.isdigit() else (0, part) for part in _parts(state.row.name.casefold()))
    place = (state.row.facility_name.casefold(), name, str(state.row.id))
    if first is None:
        return (9, 0.0, *place)
    returned = first.state == "returned-unacknowledged"
    return (_RANK[first.priority] + 3 * returned, first.raised_at.timestamp(), *place)


def _parts(name: str) -> list[str]:
    parts = [""]
    for letter in name:
        if parts[-1] and parts[-1][-1].isdecimal() != letter.isdecimal():
            parts.append("")
        parts[-1] += letter
    return parts

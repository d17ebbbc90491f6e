"""The room status page: which rooms need someone, in what order, and what will run out before tomorrow.

Not here: reading the rows, remembering them between visits (`web.snapshot`), or HTML.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.store.pages import AlarmRow
from wickwatch.store.people import Visible
from wickwatch.web.views import words
from wickwatch.web.views.scale import Scale, scale
from wickwatch.web.views.state import RoomState, urgency
from wickwatch.web.views.times import Moment, ago, moment
from wickwatch.web.views.watching import Banner
from wickwatch.web.views.water import Soon, Water, water

#: Sections of the page in order, each with the words for it.
SECTIONS: Mapping[str, str] = {
    "needs-someone": "Need someone",
    "has-someone": "Somebody has it",
    "no-readings": "No readings yet",
    "quiet": "Quiet",
}

_RANK = {"high": 0, "medium": 1, "low": 2}


@dataclass(frozen=True)
class Trouble:
    """One open alarm as a sentence; `answer` says who has it, or that nobody does."""

    id: UUID
    kind: str
    priority: str
    soon: str
    heading: str
    message: str
    answer: str
    answered: bool
    since: Moment


@dataclass(frozen=True)
class Card:
    """One room on the page."""

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
    band: str
    spread: str
    unheard: str
    water: tuple[Water, ...]
    lights: str
    lit: bool
    heard: str
    order: tuple[object, ...] = field(repr=False, default=())


@dataclass(frozen=True)
class Filters:
    """What a visitor asked for; empty means everything."""

    facility: str = ""
    state: str = ""
    text: str = ""

    @property
    def any(self) -> bool:
        """Whether anything was asked for."""
        return bool(self.facility or self.state or self.text)


@dataclass(frozen=True)
class Section:
    """Rooms with the same need."""

    need: str
    title: str
    cards: tuple[Card, ...]


@dataclass(frozen=True)
class StatusPage:
    """The whole page; `several` tells whether rooms of more than one facility may be on it."""

    headline: str
    sections: tuple[Section, ...]
    soon: tuple[Soon, ...]
    whole: tuple[Trouble, ...]
    banners: tuple[Banner, ...]
    facilities: tuple[Visible, ...]
    filters: Filters
    several: bool
    rooms: int
    shown: int
    now: Moment
    zones: str


def card(state: RoomState, now: datetime) -> Card:
    """One room."""
    open_ = [alarm for alarm in state.alarms if alarm.state in _ASKING]
    unanswered = [alarm for alarm in open_ if alarm.state != "acknowledged"]
    first = next(iter(unanswered or open_), None)
    silent, unread = len(state.at("silent")), len(state.at("unread"))
    read = [c.row.tension_mbar for c in state.containers if c.row.tension_mbar is not None and c.place != "silent"]
    unheard = [f"{silent} not heard lately"] if silent else []
    unheard += [f"{unread} never read"] if unread and state.heard_at else []
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
        band=f"{state.rules.wet_limit_mbar:g}–{state.rules.dry_limit_mbar:g}",
        spread=f"{min(read):.0f}–{max(read):.0f} mbar" if read else "",
        unheard=", ".join(unheard),
        water=tuple(water(reservoir, state.zone, now) for reservoir in state.reservoirs),
        lights=f"{state.row.lights_on:%H:%M}–{state.row.lights_off:%H:%M}",
        lit=lit(state, now),
        heard=ago(state.heard_at, now) if state.heard_at else "never",
        order=_order(state, first),
    )


def page(
    cards: Sequence[Card],
    soon: Sequence[Soon],
    whole: Sequence[Trouble],
    banners: Sequence[Banner],
    facilities: Sequence[Visible],
    filters: Filters,
    now: datetime,
) -> StatusPage:
    """The page from its cards; filters choose among rooms, the headline always counts all of them."""
    shown = [one for one in cards if fits(one, filters)]
    sections = []
    for need, title in SECTIONS.items():
        chosen = tuple(sorted((one for one in shown if one.need == need), key=lambda one: one.order))
        if chosen:
            sections.append(Section(need, title, chosen))
    zones = sorted({facility.zone for facility in facilities})
    zone = ZoneInfo(zones[0]) if len(zones) == 1 else ZoneInfo("UTC")
    return StatusPage(
        headline=headline(cards, len(whole)),
        sections=tuple(sections),
        soon=tuple(sorted(soon, key=lambda one: one.out_at)),
        whole=tuple(whole),
        banners=tuple(banners),
        facilities=tuple(facilities),
        filters=filters,
        several=len(facilities) > 1,
        rooms=len(cards),
        shown=len(shown),
        now=moment(now, zone, now),
        zones=zones[0] if len(zones) == 1 else "UTC; times below are each facility's own",
    )


def fits(one: Card, filters: Filters) -> bool:
    """Whether a room is among those asked for; text is looked for in names and in what is wrong."""
    if filters.facility and one.facility_slug != filters.facility:
        return False
    if filters.state and one.need != filters.state:
        return False
    if not filters.text:
        return True
    parts = [one.name, one.facility, *(each.name for each in one.water)]
    parts += [text for each in one.troubles for text in (each.heading, each.message)]
    said = " ".join(parts).casefold()
    return all(word in said for word in filters.text.casefold().split())


def headline(cards: Sequence[Card], whole: int) -> str:
    """The page in one sentence."""
    needing = sum(one.need == "needs-someone" for one in cards)
    having = sum(one.need == "has-someone" for one in cards)
    if not cards:
        return "No rooms yet"
    if not needing and not having and not whole:
        return f"All quiet in {words.number(len(cards), 'room')}"
    told = []
    if needing:
        told.append(f"{words.number(needing, 'room')} {'needs' if needing == 1 else 'need'} someone")
    if having:
        told.append(f"somebody has {words.number(having, 'other' if needing else 'room')}")
    if not told:
        told.append(f"all quiet in {words.number(len(cards), 'room')}, but not around them")
    text = ", ".join(told)
    return text[0].upper() + text[1:]


def trouble(alarm: AlarmRow, zone: ZoneInfo, now: datetime) -> Trouble:
    """One alarm as a sentence."""
    answer = words.STATES[alarm.state]
    if alarm.state == "acknowledged" and alarm.acknowledged_by:
        answer = f"{alarm.acknowledged_by} has it"
    return Trouble(
        id=alarm.id,
        kind=alarm.kind,
        priority=alarm.priority,
        soon=words.PRIORITIES[alarm.priority],
        heading=words.KINDS[alarm.kind],
        message=alarm.message,
        answer=answer,
        answered=alarm.state == "acknowledged",
        since=moment(alarm.raised_at, zone, now),
    )


def whole_facility(alarms: Sequence[AlarmRow], now: datetime) -> tuple[Trouble, ...]:
    """Alarms that belong to no room, such as a silent gateway, the most urgent first."""
    asking = sorted((alarm for alarm in alarms if alarm.room_id is None and alarm.state in _ASKING), key=urgency)
    return tuple(trouble(alarm, ZoneInfo(alarm.zone), now) for alarm in asking)


def lit(state: RoomState, now: datetime) -> bool:
    """Whether the room's lights are on, by its photoperiod."""
    clock = now.astimezone(state.zone).time()
    on, off = state.row.lights_on, state.row.lights_off
    return on <= clock < off if on <= off else clock >= on or clock < off


_ASKING = ("unacknowledged", "acknowledged", "returned-unacknowledged")


def _outside(state: RoomState) -> str:
    """Containers outside their band by name, the farthest first."""
    told = []
    for place, word in (("dry", "dry"), ("wet", "wet")):
        found = state.at("dry" if place == "dry" else "wet")
        if found:
            listed = [f"{c.row.name} {c.row.tension_mbar:.0f}" for c in found]
            told.append(f"{word}: {words.names(listed)}")
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

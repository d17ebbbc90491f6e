"""Rules at one place: the value in force, where it comes from, and what is given here.

Not here: what a change would have done (`web.views.rule_trial`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from wickwatch.fleet import Rules, as_values
from wickwatch.fleet.declared import DeclaredFacility, DeclaredRoom
from wickwatch.fleet.difference import Place
from wickwatch.store.pages.set_up import RoomCounts
from wickwatch.store.people import Visible
from wickwatch.texts import _
from wickwatch.web.views.rule_trial import TrialView
from wickwatch.web.views.rule_words import GROUPS, rule_shown, unit_behind


@dataclass(frozen=True)
class Level:
    """A place from which rules come down: its name and those given there."""

    name: str
    given: Mapping[str, float]


@dataclass(frozen=True)
class RuleLine:
    """One rule: `inherited` unless `given` here, `source` says whence; `value` is what the field holds."""

    name: str
    label: str
    hint: str
    unit: str
    inherited: str
    source: str
    given: bool
    value: str
    error: str


@dataclass(frozen=True)
class RuleGroup:
    """Rules that belong together; `open` where one is given here or wrong."""

    heading: str
    lines: tuple[RuleLine, ...]
    open: bool


@dataclass(frozen=True)
class PlaceLink:
    """Another place to give rules at, and how many are given there."""

    name: str
    href: str
    given: int


@dataclass(frozen=True)
class RulesPage:
    """Rules of one place; `again` leads back to the trial, `live` to the part of it that changes."""

    facility: Visible
    title: str
    action: str
    above: tuple[PlaceLink, ...]
    below: tuple[PlaceLink, ...]
    groups: tuple[RuleGroup, ...]
    errors: tuple[str, ...]
    trial: TrialView | None
    again: str
    live: str
    saved: bool


def groups(
    kind: str, above: Sequence[Level], given: Mapping[str, float], texts: Mapping[str, str], errors: Mapping[str, str]
) -> tuple[RuleGroup, ...]:
    """Rules that a kind of place looks at; `above` from the facility down, `texts` what was typed."""
    inherited = {name: (value, _("the default")) for name, value in as_values(Rules()).items()}
    for level in above:
        inherited |= {name: (value, _("from %(name)s", name=level.name)) for name, value in level.given.items()}
    made = []
    for heading, rules in GROUPS.items():
        lines = tuple(
            RuleLine(
                name,
                _(words.label),
                _(words.hint),
                unit_behind(name),
                rule_shown(name, inherited[name][0]),
                inherited[name][1],
                name in given,
                texts.get(name, rule_shown(name, given[name]) if name in given else ""),
                errors.get(name, ""),
            )
            for name, words in rules.items()
            if kind in words.kinds
        )
        if lines:
            touched = any(line.given or line.value or line.error for line in lines)
            made.append(RuleGroup(_(heading), lines, touched or heading == next(iter(GROUPS))))
    return tuple(made)


def rules_shown(kind: str) -> list[str]:
    """Names of the rules that a kind of place looks at."""
    return [name for rules in GROUPS.values() for name, words in rules.items() if kind in words.kinds]


def levels(facility: DeclaredFacility, place: Place) -> list[Level]:
    """The places above one, from the facility down."""
    found = [Level(facility.name, facility.rules)] if place.kind != "facility" else []
    if place.room is not None:
        found += [Level(room.name, room.rules) for room in facility.rooms if room.slug == place.room]
    return found


def below(facility: DeclaredFacility, rooms: Sequence[RoomCounts], place: Place, here: str) -> tuple[PlaceLink, ...]:
    """Places inside one that may have rules of their own; `here` is the path of the facility's rules."""
    if place.kind == "facility":
        return tuple(PlaceLink(room.name, f"{here}?room={room.slug}", room.rules) for room in rooms)
    if place.kind != "room":
        return ()
    return tuple(_parts(_room(facility, place.slug), here))


def title(facility: DeclaredFacility, place: Place) -> str:
    """What the place is called."""
    if place.kind == "facility":
        return facility.name
    if place.room is None:
        return _room(facility, place.slug).name
    room = _room(facility, place.room)
    parts = room.reservoirs if place.kind == "reservoir" else room.containers
    return next(one.name for one in parts if one.slug == place.slug)


def _room(facility: DeclaredFacility, slug: str) -> DeclaredRoom:
    return next(one for one in facility.rooms if one.slug == slug)


def _parts(room: DeclaredRoom, here: str) -> list[PlaceLink]:
    tanks = [("reservoir", one.slug, one.name, one.rules) for one in room.reservoirs]
    pots = [("container", one.slug, one.name, one.rules) for one in room.containers]
    return [
        PlaceLink(name, f"{here}?room={room.slug}&{kind}={slug}", len(rules))
        for kind, slug, name, rules in [*tanks, *pots]
    ]

"""A fleet as somebody declares it: what should exist, by slug, with what measures it by channel name.

Not here: ids and what is inherited (`fleet.model`), nor how a file is read and written (`fleet.document`). What a
database holds is brought to this same shape, so that wanted and present can be compared field by field.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import time

from wickwatch.texts import PLAIN

#: Rules given at one place; what is not given is inherited.
GivenRules = Mapping[str, float]


@dataclass(frozen=True)
class DeclaredGateway:
    """What publishes readings."""

    slug: str


@dataclass(frozen=True)
class DeclaredReservoir:
    """A tank; `keys` are its shape's measures, `level` the channel that measures it."""

    slug: str
    name: str
    shape: str
    keys: Mapping[str, object]
    outlet_mm: float
    sensor_zero_mm: float = 0.0
    head_mm: float = 0.0
    rules: GivenRules = field(default_factory=dict)
    level: str | None = None


@dataclass(frozen=True)
class DeclaredLine:
    """A supply line; `reservoir` is a slug of the same room."""

    slug: str
    name: str
    kind: str
    reservoir: str | None = None
    flow: str | None = None


@dataclass(frozen=True)
class DeclaredContainer:
    """A pot or bed; `line` is a slug of the same room, `twin` a second tension channel beside the one that counts."""

    slug: str
    name: str
    line: str | None = None
    volume_l: float | None = None
    medium: str | None = None
    stands_for: int = 1
    rules: GivenRules = field(default_factory=dict)
    tension: str | None = None
    twin: str | None = None
    temperature: str | None = None


@dataclass(frozen=True)
class DeclaredRoom:
    """A room and what stands in it; lights in facility time."""

    slug: str
    name: str
    lights_on: time
    lights_off: time
    rules: GivenRules = field(default_factory=dict)
    temperature: str | None = None
    humidity: str | None = None
    reservoirs: tuple[DeclaredReservoir, ...] = ()
    lines: tuple[DeclaredLine, ...] = ()
    containers: tuple[DeclaredContainer, ...] = ()


@dataclass(frozen=True)
class DeclaredFacility:
    """A site; `zone` is a name of the time zone database, `advice` its own text by kind of alarm.

    Language, units and clock are what people read who did not choose their own.
    """

    slug: str
    name: str
    zone: str
    language: str = PLAIN.language
    tension_unit: str = PLAIN.tension_unit
    volume_unit: str = PLAIN.volume_unit
    clock: str = PLAIN.clock
    rules: GivenRules = field(default_factory=dict)
    advice: Mapping[str, str] = field(default_factory=dict)
    gateways: tuple[DeclaredGateway, ...] = ()
    rooms: tuple[DeclaredRoom, ...] = ()


Declared = DeclaredFacility | DeclaredGateway | DeclaredRoom | DeclaredReservoir | DeclaredLine | DeclaredContainer

#: Fields that name a channel, per type of subject, with the quantity that it must be of.
CHANNEL_FIELDS: Mapping[str, Mapping[str, str]] = {
    "facility": {},
    "gateway": {},
    "room": {"temperature": "temperature", "humidity": "humidity"},
    "reservoir": {"level": "level"},
    "line": {"flow": "flow"},
    "container": {"tension": "tension", "twin": "tension", "temperature": "temperature"},
}


def attached(facility: DeclaredFacility) -> Iterator[tuple[str, str, Declared, str, str]]:
    """Everything that a channel is attached to: (room slug, type, subject, field, channel name)."""
    for room in facility.rooms:
        subjects: list[tuple[str, Declared]] = [("room", room)]
        subjects += [("reservoir", one) for one in room.reservoirs]
        subjects += [("line", one) for one in room.lines]
        subjects += [("container", one) for one in room.containers]
        for kind, subject in subjects:
            for key in CHANNEL_FIELDS[kind]:
                channel = getattr(subject, key)
                if channel is not None:
                    yield room.slug, kind, subject, key, channel


def plain(keys: Mapping[str, object]) -> dict[str, object]:
    """A shape's measures as they are compared and kept: numbers as float, rows as tuples; others as they are."""
    return {key: _plain(value) for key, value in keys.items()}


def _plain(value: object) -> object:
    if isinstance(value, list | tuple):
        return tuple(_plain(part) for part in value)
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value

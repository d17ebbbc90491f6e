"""What exists in a facility, as plain frozen data.

Not here: how it is stored (`store`), how it is written in a file (`fleet.document`), or which limits apply
(`fleet.rules`). Ids are the database's; a fleet read from a file has none yet and is compared by slug.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, time
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.fleet.rules import Rules

#: What an alarm, a finding, an assignment or a work entry can be about.
SUBJECT_TYPES = ("facility", "room", "reservoir", "line", "container", "gateway")

#: Quantities that may be attached to each type of subject.
QUANTITIES_OF = {
    "container": ("tension", "temperature"),
    "reservoir": ("level",),
    "room": ("temperature", "humidity"),
    "line": ("flow",),
}


@dataclass(frozen=True, slots=True)
class Subject:
    """One thing that can be watched; `name` is what people call it."""

    type: str
    id: UUID
    name: str


@dataclass(frozen=True, slots=True)
class Channel:
    """One quantity from one device.

    `id` is the number readings are stored under. `gateway_id` is the gateway its device was last heard through.
    `interval_s` is its usual time between readings, as seen (median of the last ones), `None` while unknown. `since`
    is when it was attached to what it measures now. `battery` is the number under which the charge of its device is
    stored, `None` where the device tells none in per cent: a battery is attached to nothing and goes where its device
    goes.
    """

    id: int
    name: str
    quantity: str
    gateway_id: UUID | None = None
    interval_s: float | None = None
    since: datetime | None = None
    battery: int | None = None


@dataclass(frozen=True, slots=True)
class Reservoir:
    """A tank that feeds by gravity.

    `shape` and `keys` are those of the fleet file; `agronomy.tank.tank_from_keys` makes the tank. Heights in mm above
    the bottom, except `head_mm`, which is above the outlet.
    """

    id: UUID
    slug: str
    name: str
    shape: str
    keys: Mapping[str, object]
    sensor_zero_mm: float
    outlet_mm: float
    head_mm: float
    rules: Rules
    level: Channel | None = None

    @property
    def empty_mm(self) -> float:
        """Water height above the bottom at which the line starves: outlet plus the head it needs."""
        return self.outlet_mm + self.head_mm


@dataclass(frozen=True, slots=True)
class Line:
    """Tubing from a reservoir; `kind` is `loop` or `dead-end`."""

    id: UUID
    slug: str
    name: str
    reservoir_id: UUID | None
    kind: str


@dataclass(frozen=True, slots=True)
class Container:
    """A pot or bed with an emitter; its probe may stand for several like containers."""

    id: UUID
    slug: str
    name: str
    line_id: UUID | None
    volume_l: float | None
    medium: str | None
    stands_for: int
    rules: Rules
    tension: Channel | None = None
    twin: Channel | None = None


@dataclass(frozen=True, slots=True)
class Room:
    """A room with its own photoperiod, in facility time; lights_off before lights_on means over midnight."""

    id: UUID
    slug: str
    name: str
    lights_on: time
    lights_off: time
    rules: Rules
    reservoirs: tuple[Reservoir, ...] = ()
    lines: tuple[Line, ...] = ()
    containers: tuple[Container, ...] = ()
    temperature: Channel | None = None
    humidity: Channel | None = None


@dataclass(frozen=True, slots=True)
class Gateway:
    """What publishes readings; `status` is its last birth or will message."""

    id: UUID
    slug: str
    status: str | None = None
    status_at: datetime | None = None
    heard_at: datetime | None = None


@dataclass(frozen=True, slots=True, weakref_slot=True)  # what is derived from a facility is kept while it lives
class Facility:
    """A site with one time zone, and all that stands in it as of one moment.

    `advice` is its own text by kind of alarm, shown beside the steps that hold everywhere.
    """

    id: UUID
    slug: str
    name: str
    zone: ZoneInfo
    rules: Rules
    rooms: tuple[Room, ...] = ()
    gateways: tuple[Gateway, ...] = field(default=())
    advice: Mapping[str, str] = field(default_factory=dict)

"""What calls answer, field by field: the source of the interface's description.

Ids are text. Tension is mbar, level mm above the sensor's zero, volume litres, durations seconds; times are RFC 3339
in UTC. Not here: what calls take, which stands beside each call.
"""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from pydantic import BaseModel, Field

from wickwatch.alarms import PartType
from wickwatch.alarms.model import Priority, State
from wickwatch.fleet import Kind
from wickwatch.web.views.state import Need, Place

NoticeState = Literal["queued", "sent", "dead", "withdrawn"]
Way = Literal["email", "webhook", "push", "service"]
SubjectType = Literal["facility", "room", "reservoir", "line", "container", "gateway"]


class Subject(BaseModel):
    """What an alarm is about."""

    type: SubjectType
    id: str
    name: str


class Alarm(BaseModel):
    """An alarm, as it is shown to every program."""

    id: str
    kind: Kind
    priority: Priority
    state: State
    facility: str = Field(description="slug")
    room: str | None = Field(description="slug; null where it is about no room")
    subject: Subject
    raised_at: datetime
    acknowledged_at: datetime | None
    cleared_at: datetime | None = Field(description="when the condition went")
    closed_at: datetime | None = Field(description="when its life was over")
    shelved_until: datetime | None
    out_of_service_until: datetime | None
    message: str = Field(description="one sentence")
    evidence: dict[str, float | int | str | bool | None] = Field(
        description="numbers that raised it, units in the names"
    )
    cause: str | None = Field(description="id of the alarm that explains this one")
    suppressed: bool = Field(description="explained by its cause: nobody is called for it")
    outcome: str | None = Field(description="how it ended")
    advice: list[str] = Field(description="what to do, in order")


class AlarmPage(BaseModel):
    """Alarms, newest first."""

    items: list[Alarm]
    next_cursor: str | None


class PartOut(BaseModel):
    """What is out of service."""

    type: PartType
    id: str = Field(description="its id; of a device its URN")
    name: str


class OutOfService(BaseModel):
    """One part out of service, always with an end."""

    id: str
    facility: str = Field(description="slug")
    room: str | None = Field(description="slug; null where it is in no room")
    subject: PartOut
    since: datetime
    until: datetime
    note: str
    person: str | None
    ended_at: datetime | None = Field(description="when somebody brought it back before its end")


class OutOfServiceList(BaseModel):
    """Parts out of service, what ends first comes first."""

    items: list[OutOfService]


class Container(BaseModel):
    """A container and its tension."""

    id: str
    slug: str
    name: str
    line: str | None = Field(description="slug of its supply line")
    stands_for: int = Field(description="like containers that its probe speaks for, itself included")
    channel_id: str | None
    state: Place
    tension_mbar: float | None
    read_at: datetime | None
    set_point_mbar: float
    wet_limit_mbar: float
    dry_limit_mbar: float


class Reservoir(BaseModel):
    """A reservoir and its water."""

    id: str
    slug: str
    name: str
    channel_id: str | None
    level_mm: float | None = Field(description="above the level sensor's zero")
    read_at: datetime | None
    silent: bool = Field(description="its last reading is too old to trust")
    volume_l: float | None
    usable_l: float | None = Field(description="above the level at which the line starves")
    usable_full_l: float | None = Field(description="the same when it is full")
    draw_l_per_h: float | None
    empty_at: datetime | None = Field(description="when it is empty if it is drawn on as before")
    empty_at_soonest: datetime | None
    empty_at_latest: datetime | None


class Room(BaseModel):
    """A room, what stands in it, and its active alarms."""

    id: str
    slug: str
    name: str
    facility: str = Field(description="slug")
    facility_name: str
    zone: str = Field(description="IANA time zone of the facility")
    lights_on: str = Field(description="HH:MM, facility time")
    lights_off: str = Field(description="HH:MM, facility time; before lights_on means over midnight")
    state: Need
    heard_at: datetime | None = Field(description="newest reading of any of its channels")
    reservoirs: list[Reservoir]
    containers: list[Container]
    alarms: list[Alarm] = Field(description="active ones, the most urgent first")


class RoomPage(BaseModel):
    """Rooms by facility and slug."""

    items: list[Room]
    next_cursor: str | None


class Assignment(BaseModel):
    """What a channel measures, from when until when."""

    type: Literal["container", "reservoir", "line", "room"]
    id: str
    name: str
    room: str = Field(description="slug")
    from_: datetime = Field(alias="from")
    twin: bool = Field(description="a second probe beside the one that counts")


class Channel(BaseModel):
    """One quantity from one device."""

    id: str
    name: str = Field(description="DEVICE:QUANTITY, as it was heard")
    facility: str = Field(description="slug")
    quantity: Literal["tension", "level", "temperature", "humidity", "flow", "battery"]
    unit: str = Field(description="unit its readings are given in")
    gateway: str | None = Field(description="slug of the gateway it was last heard through")
    interval_s: float | None = Field(description="usual time between readings")
    first_heard_at: datetime
    last_value: float | None = Field(description="newest value, in `unit`")
    last_at: datetime | None
    conflicts: int = Field(description="readings with the time of another and another value; the first was kept")
    assignment: Assignment | None


class ChannelPage(BaseModel):
    """Channels by name."""

    items: list[Channel]
    next_cursor: str | None


class Reading(BaseModel):
    """One reading, in the channel's unit."""

    at: datetime
    value: float


class Bucket(BaseModel):
    """Readings of one bucket, in the channel's unit; `at` is its beginning."""

    at: datetime
    min: float
    mean: float
    max: float
    count: int


class ReadingPage(BaseModel):
    """Readings of one channel, oldest first."""

    channel: str = Field(description="id")
    name: str
    quantity: Literal["tension", "level", "temperature", "humidity", "flow", "battery"]
    unit: str = Field(description="unit of every value here")
    from_: datetime = Field(alias="from")
    to: datetime
    every_s: int | None = Field(description="width of the buckets; null for raw readings")
    items: list[Reading] | list[Bucket]
    next_cursor: str | None


class Rejected(BaseModel):
    """Records of a pack that could not be taken, for one reason; they are in quarantine."""

    reason: str
    detail: str = Field(description="of the first of them")
    records: int


class Taken(BaseModel):
    """What became of a pack."""

    stored: int
    duplicates: int = Field(description="stored before with the same value")
    conflicts: int = Field(description="stored before with another value, which was kept")
    rejected: list[Rejected]


class Work(BaseModel):
    """A work entry: what a person did."""

    id: str
    kind: str
    facility: str = Field(description="slug")
    room: str | None = Field(description="slug")
    subject: Subject
    at: datetime = Field(description="when it was done")
    person: str | None
    alarm: str | None = Field(description="id of the alarm it answers")
    note: str
    written_at: datetime = Field(description="when it was written down")
    corrects: str | None = Field(description="id of the entry it stands in place of")
    helped: bool | None = Field(description="what an alarm says of it; null where none does, or not yet")
    helped_after_s: float | None = Field(description="how long after it things were right again")


class WorkPage(BaseModel):
    """Work entries, the newest first."""

    items: list[Work]
    next_cursor: str | None


class Settled(BaseModel):
    """Whether a container is at its set point and quiet, so that its emitter may go in."""

    container: Subject
    ready: bool
    reasons: list[str] = Field(description="why it is not")
    tension_mbar: float | None
    set_point_mbar: float
    ready_at: datetime | None = Field(description="when it will have stayed there for long enough, if it stays")


class SettledRoom(BaseModel):
    """The containers of a room."""

    items: list[Settled]


class ContactTest(BaseModel):
    """How a test of a contact went."""

    state: NoticeState
    at: datetime = Field(description="when it was asked for")
    detail: str | None = Field(description="what the last try led to")


class Contact(BaseModel):
    """One way to reach the caller."""

    id: str
    way: Way
    address: str = Field(description="of a URL only where it leads")
    label: str
    test: ContactTest | None = Field(description="the newest test")

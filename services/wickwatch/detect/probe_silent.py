"""probe-silent: a channel that was heard and no longer is, beyond its own usual interval.

A channel never heard is not found: it is new. The finding is about the container or reservoir whose eyes are gone.
"""

from __future__ import annotations

from uuid import UUID

import numpy as np

from wickwatch.detect.batteries import Batteries, of
from wickwatch.detect.clock import moment
from wickwatch.detect.evidence import iso, rounded
from wickwatch.detect.finding import Finding, Key
from wickwatch.detect.sight import Sight, subject
from wickwatch.detect.signals import Signals
from wickwatch.detect.window import numbers
from wickwatch.fleet import Channel, Container, Reservoir


def find(sight: Sight) -> list[Finding]:
    """Findings of containers and reservoirs with a silent probe; one each, its own probe before its twin."""
    place = sight.place
    found: list[Finding] = []
    own, second, level = of(sight, "tension"), of(sight, "twin"), of(sight, "level")
    for number in numbers(sight.tension.silent | sight.twin.silent):
        container = place.containers[number]
        room = place.rooms[place.room_of[number]].id
        if sight.tension.silent[number]:
            found.append(_finding(sight, container, room, container.tension, sight.tension, own, number))
        else:
            found.append(_finding(sight, container, room, container.twin, sight.twin, second, number))
    for number in numbers(sight.level.silent):
        reservoir = place.reservoirs[number]
        room = place.rooms[place.reservoir_room[number]].id
        found.append(_finding(sight, reservoir, room, reservoir.level, sight.level, level, number))
    return found


def _finding(
    sight: Sight,
    thing: Container | Reservoir,
    room: UUID,
    channel: Channel | None,
    signal: Signals,
    battery: Batteries,
    number: int,
) -> Finding:
    assert channel is not None  # only an attached channel can be silent
    since = signal.quiet_from[number]
    explained_by: tuple[Key, ...] = () if channel.gateway_id is None else (("gateway-silent", channel.gateway_id),)
    if battery.low[number]:
        explained_by += (("probe-fault", thing.id),)
    return Finding(
        kind="probe-silent",
        subject=subject(thing),
        room_id=room,
        since=moment(since),
        evidence={
            "channel": channel.name,
            "twin": isinstance(thing, Container) and channel is thing.twin,
            "last_value": rounded(signal.value[number]),
            "last_at": iso(signal.at[number]),
            "silent_minutes": rounded(float((sight.as_of - since) / np.timedelta64(1, "m"))),
            "allowed_minutes": rounded(signal.limit_s[number] / 60.0),
            **({"battery_percent": rounded(battery.percent[number], 0)} if battery.low[number] else {}),
        },
        explained_by=explained_by,
    )

"""Which open condition explains another: suppression by design.

A dry reservoir explains its starved lines and dry pots, a silent gateway its silent probes. Detectors name causes
they have evidence for (`Finding.explained_by`); how the place is connected gives the rest. Only the likeliest cause
that holds counts. Not here: what suppression does to an alarm (`step`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from uuid import UUID

from wickwatch.alarms.model import Alarm, Condition, Priority
from wickwatch.alarms.policy import HARM_NEAR, more_urgent
from wickwatch.detect.finding import Key
from wickwatch.fleet import Channel, Facility, Kind, Room, Rules, kept


@dataclass(frozen=True)
class Topology:
    """What feeds and reports what, by id, and the rules in force at everything that is part of the place."""

    subjects: Mapping[UUID, Rules]
    line_of: Mapping[UUID, UUID] = field(default_factory=dict)
    reservoir_of: Mapping[UUID, UUID] = field(default_factory=dict)
    gateway_of: Mapping[UUID, UUID] = field(default_factory=dict)


@kept
def topology(place: Facility) -> Topology:
    """How a facility is connected: container to line, line to reservoir, what is measured to its gateway."""
    subjects = dict.fromkeys((place.id, *(gateway.id for gateway in place.gateways)), place.rules)
    line_of: dict[UUID, UUID] = {}
    reservoir_of: dict[UUID, UUID] = {}
    gateway_of: dict[UUID, UUID] = {}
    for room in place.rooms:
        subjects |= dict.fromkeys((room.id, *(line.id for line in room.lines)), room.rules)
        subjects |= {part.id: part.rules for parts in (room.reservoirs, room.containers) for part in parts}
        for line in room.lines:
            if line.reservoir_id is not None:
                reservoir_of[line.id] = line.reservoir_id
        for container in room.containers:
            if container.line_id is not None:
                line_of[container.id] = container.line_id
        for id, channel in _measured(room):
            if channel is not None and channel.gateway_id is not None:
                gateway_of[id] = channel.gateway_id
    return Topology(subjects, line_of, reservoir_of, gateway_of)


def explanations(topology: Topology, key: Key, named: tuple[Key, ...]) -> tuple[Key, ...]:
    """Conditions which, if they hold, explain `key`: those a detector named first, then those of the place."""
    causes = _BY_KIND.get(key[0])
    return (*named, *(cause for cause in (causes(topology, key[1]) if causes else ()) if cause not in named))


def covers(
    cause: Alarm | Condition, priority: Priority, effect: Kind, urgency: Priority, left: timedelta | None
) -> bool:
    """Whether a cause may stand for an effect: it is as urgent, or says that the effect's probe can't be believed.

    An uneven room may explain a drying pot until that pot is about to pass its dry limit; then the pot calls itself.
    `left` is the time until then, None where that is not known or the effect has called. A low battery explains that
    its device falls silent and nothing else: what it still tells is true.
    """
    if cause.kind == "probe-fault" and "battery_percent" in cause.evidence:
        return effect == "probe-silent"
    if cause.kind == "uneven-room" and left is not None and left > HARM_NEAR:
        return True
    return cause.kind == "probe-fault" or not more_urgent(urgency, priority)


def leads_to(alarm: Alarm, id: UUID, by_id: Mapping[UUID, Alarm]) -> bool:
    """Whether following causes from `alarm` comes to `id`: two alarms must not explain each other away."""
    following: Alarm | None = alarm
    seen: set[UUID] = set()
    while following is not None and following.id not in seen:
        if following.id == id:
            return True
        seen.add(following.id)
        following = by_id.get(following.cause_id) if following.cause_id else None
    return False


def _measured(room: Room) -> Iterator[tuple[UUID, Channel | None]]:
    yield from ((container.id, container.tension) for container in room.containers)
    yield from ((reservoir.id, reservoir.level) for reservoir in room.reservoirs)


def _dry_container(topology: Topology, container_id: UUID) -> tuple[Key, ...]:
    line_id = topology.line_of.get(container_id)
    if line_id is None:
        return ()
    return (*_starved_line(topology, line_id), ("supply-interrupted", line_id))


def _starved_line(topology: Topology, line_id: UUID) -> tuple[Key, ...]:
    reservoir_id = topology.reservoir_of.get(line_id)
    return () if reservoir_id is None else (("reservoir-empty", reservoir_id),)


def _low_reservoir(topology: Topology, reservoir_id: UUID) -> tuple[Key, ...]:
    return (("reservoir-empty", reservoir_id),)


def _silent_probe(topology: Topology, id: UUID) -> tuple[Key, ...]:
    gateway_id = topology.gateway_of.get(id)
    return () if gateway_id is None else (("gateway-silent", gateway_id),)


_BY_KIND: Mapping[Kind, Callable[[Topology, UUID], tuple[Key, ...]]] = {
    "drying-drift": _dry_container,
    "supply-interrupted": _starved_line,
    "reservoir-low": _low_reservoir,
    "probe-silent": _silent_probe,
}

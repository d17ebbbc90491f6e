"""gateway-silent: a gateway that published and no longer does, or has said or willed that it is offline.

Only where readings that are attached to something came through it: a spare on a shelf calls nobody. Here, too: which
gateways are overdue but not silent yet, so that nobody is called for a probe behind one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import constants as c
from wickwatch.detect.clock import moment, stamp
from wickwatch.detect.evidence import iso, rounded
from wickwatch.detect.finding import Finding
from wickwatch.detect.sight import Sight
from wickwatch.fleet import Channel, Facility, Gateway, Subject, kept


@dataclass(frozen=True)
class _Behind:
    """What hangs on one gateway: ids of its channels, and the shortest of their intervals [s], 0 if none is known."""

    channels: NDArray[np.int64]
    busiest_s: float


def find(sight: Sight) -> list[Finding]:
    """Findings of silent gateways that something depends on."""
    behind = _behind(sight.facility)
    found = (_judge(sight, gateway, behind[gateway.id]) for gateway in sight.facility.gateways if gateway.id in behind)
    return [each for each in found if each is not None]


def overdue(sight: Sight) -> frozenset[UUID]:
    """Ids of gateways that miss a reading of their busiest channel, but are not silent yet by their rule."""
    behind = _behind(sight.facility)
    late: set[UUID] = set()
    for gateway in sight.facility.gateways:
        if gateway.id in behind:
            silent_min = _silent_minutes(sight, _since(sight, gateway, behind[gateway.id]))
            due_min = c.OVERDUE_INTERVALS * behind[gateway.id].busiest_s / 60.0
            if due_min < silent_min <= _allowed_minutes(sight, behind[gateway.id]):
                late.add(gateway.id)
    return frozenset(late)


@kept
def _behind(place: Facility) -> dict[UUID, _Behind]:
    """By gateway id."""
    channels: dict[UUID, list[Channel]] = {}
    for channel in _attached(place):
        if channel.gateway_id is not None:
            channels.setdefault(channel.gateway_id, []).append(channel)
    return {
        gateway: _Behind(
            np.array([each.id for each in some], dtype=np.int64),
            min((each.interval_s for each in some if each.interval_s is not None), default=0.0),
        )
        for gateway, some in channels.items()
    }


def _attached(facility: Facility) -> Iterator[Channel]:
    """Every channel attached to something in the facility."""
    for room in facility.rooms:
        for container in room.containers:
            yield from (each for each in (container.tension, container.twin) if each)
        yield from (reservoir.level for reservoir in room.reservoirs if reservoir.level)
        yield from (each for each in (room.temperature, room.humidity) if each)


def _judge(sight: Sight, gateway: Gateway, behind: _Behind) -> Finding | None:
    since = _since(sight, gateway, behind)
    limit_min, silent_min = _allowed_minutes(sight, behind), _silent_minutes(sight, since)
    if np.isnat(since) or silent_min <= limit_min:
        return None
    heard = _heard(sight, gateway, behind.channels)
    return Finding(
        kind="gateway-silent",
        subject=Subject("gateway", gateway.id, gateway.slug),
        room_id=None,
        since=moment(since),
        evidence={
            "last_heard_at": iso(heard),
            "status": gateway.status,
            "silent_minutes": rounded(silent_min),
            "allowed_minutes": rounded(limit_min),
            "channels": len(behind.channels),
        },
    )


def _since(sight: Sight, gateway: Gateway, behind: _Behind) -> np.datetime64:
    """When its silence began, NaT where it was never heard."""
    heard = _heard(sight, gateway, behind.channels)
    offline = gateway.status == "offline" and gateway.status_at is not None and stamp(gateway.status_at) <= sight.as_of
    said = stamp(gateway.status_at) if offline else np.datetime64("NaT", "us")
    # A will is sent some time after the last pack; readings after it mean that the gateway is back.
    return said if not np.isnat(said) and not heard > said else heard


def _silent_minutes(sight: Sight, since: np.datetime64) -> float:
    """NaN where it was never heard."""
    return float((sight.as_of - since) / np.timedelta64(1, "m"))


def _allowed_minutes(sight: Sight, behind: _Behind) -> float:
    """The rule's minutes of silence, but never less than the busiest channel needs for some readings."""
    rules = sight.facility.rules
    return max(rules.gateway_silent_minutes, rules.silent_intervals * behind.busiest_s / 60.0)


def _heard(sight: Sight, gateway: Gateway, channels: NDArray[np.int64]) -> np.datetime64:
    """Last sign of life: arrival of its last pack if that is known as of now, else its channels' newest reading."""
    arrived = stamp(gateway.heard_at)
    rows = sight.frame.rows(channels)
    read: NDArray[np.datetime64] = sight.frame.last_at[rows[rows >= 0]]
    signs = np.append(read, arrived if arrived <= sight.as_of else np.datetime64("NaT", "us"))
    return np.datetime64(np.fmax.reduce(signs), "us")

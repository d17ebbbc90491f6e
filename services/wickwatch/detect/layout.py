"""A facility as arrays, so that a detector looks at all containers or reservoirs at once.

Made once from a `Facility` and kept while that object lives.
Not here: readings, nor anything that changes between sweeps (gateways' last signs of life are read from the facility).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.tank import tank_from_keys
from wickwatch.detect.clock import lit_minutes, minute_of, stamp
from wickwatch.fleet import Channel, Container, Facility, Line, Reservoir, Room, Rules, kept

#: Points of each reservoir's level-to-volume table; between them a straight line is off by less than 0.01 % of a tank.
TANK_POINTS = 513

NONE = -1


@dataclass(frozen=True)
class RuleTable:
    """The rules of N subjects by column; `table.of("dry_limit_mbar")` has shape (N,)."""

    values: NDArray[np.float64]

    def of(self, name: str) -> NDArray[np.float64]:
        """One rule of all subjects, shape (N,)."""
        return self.values[:, _RULE_COLUMN[name]]


_RULE_COLUMN = {field.name: number for number, field in enumerate(fields(Rules))}


@dataclass(frozen=True)
class Attached:
    """Channels attached to N subjects, one each: id (-1 none), usual interval (NaN unknown), from when (NaT always).

    `battery` are the channels of their devices' charge (-1 none).
    """

    channel: NDArray[np.int64]
    battery: NDArray[np.int64]
    interval_s: NDArray[np.float64]
    since: NDArray[np.datetime64]


@dataclass(frozen=True)
class TankTable:
    """Volume [l] of R reservoirs at equally spaced levels [mm above the bottom] from `low_mm` to `high_mm`."""

    low_mm: NDArray[np.float64]
    high_mm: NDArray[np.float64]
    volume_l: NDArray[np.float64]

    def litres(self, level_mm: NDArray[np.float64], which: NDArray[np.int64] | None = None) -> NDArray[np.float64]:
        """Volume at levels (N, ...) of all reservoirs, or of `which`; a level outside is taken as the rim or bottom."""
        rows = np.arange(len(self.low_mm)) if which is None else which
        rows = rows.reshape(rows.shape + (1,) * (level_mm.ndim - 1))
        span = (self.high_mm - self.low_mm)[rows]
        place = np.clip((level_mm - self.low_mm[rows]) / span, 0.0, 1.0) * (TANK_POINTS - 1)
        known = np.isfinite(place)
        below = np.minimum(np.where(known, place, 0.0).astype(np.int64), TANK_POINTS - 2)
        share = place - below
        return np.asarray(self.volume_l[rows, below] * (1.0 - share) + self.volume_l[rows, below + 1] * share)


@dataclass(frozen=True)
class Layout:
    """Subjects of one facility in the order of its rooms, with index arrays between them (-1 where there is none)."""

    rooms: tuple[Room, ...]
    reservoirs: tuple[Reservoir, ...]
    lines: tuple[Line, ...]
    containers: tuple[Container, ...]

    lights_on_min: NDArray[np.int64]
    lights_min: NDArray[np.int64]

    reservoir_room: NDArray[np.int64]
    reservoir_rules: RuleTable
    level: Attached
    zero_mm: NDArray[np.float64]
    empty_mm: NDArray[np.float64]
    tanks: TankTable

    line_room: NDArray[np.int64]
    line_reservoir: NDArray[np.int64]

    room_of: NDArray[np.int64]
    line_of: NDArray[np.int64]
    along_line: NDArray[np.int64]
    reservoir_of: NDArray[np.int64]
    stands_for: NDArray[np.int64]
    volume_l: NDArray[np.float64]
    container_rules: RuleTable
    tension: Attached
    twin: Attached

    @cached_property
    def number_of(self) -> Mapping[UUID, int]:
        """The number of each room, reservoir, line and container among its own sort."""
        sorts: list[Sequence[Room | Reservoir | Line | Container]] = [
            self.rooms, self.reservoirs, self.lines, self.containers,
        ]  # fmt: skip
        return {each.id: number for sort in sorts for number, each in enumerate(sort)}


@kept
def layout(place: Facility) -> Layout:
    """The layout of this facility."""
    rooms = place.rooms
    reservoirs = [(number, each) for number, room in enumerate(rooms) for each in room.reservoirs]
    lines = [(number, each) for number, room in enumerate(rooms) for each in room.lines]
    containers = [(number, each) for number, room in enumerate(rooms) for each in room.containers]
    reservoir_at = {each.id: number for number, (_, each) in enumerate(reservoirs)}
    line_at = {each.id: number for number, (_, each) in enumerate(lines)}
    line_reservoir = _ints(
        [reservoir_at.get(each.reservoir_id, NONE) if each.reservoir_id else NONE for _, each in lines]
    )
    line_of = _ints([line_at.get(each.line_id, NONE) if each.line_id else NONE for _, each in containers])
    return Layout(
        rooms=rooms,
        reservoirs=tuple(each for _, each in reservoirs),
        lines=tuple(each for _, each in lines),
        containers=tuple(each for _, each in containers),
        lights_on_min=_ints([minute_of(room.lights_on) for room in rooms]),
        lights_min=_ints([lit_minutes(room.lights_on, room.lights_off) for room in rooms]),
        reservoir_room=_ints([room for room, _ in reservoirs]),
        reservoir_rules=_rules([each.rules for _, each in reservoirs]),
        level=_attached([each.level for _, each in reservoirs]),
        zero_mm=np.array([each.sensor_zero_mm for _, each in reservoirs], dtype=np.float64),
        empty_mm=np.array([each.empty_mm for _, each in reservoirs], dtype=np.float64),
        tanks=_tanks([each for _, each in reservoirs]),
        line_room=_ints([room for room, _ in lines]),
        line_reservoir=line_reservoir,
        room_of=_ints([room for room, _ in containers]),
        line_of=line_of,
        along_line=_numbered([each.slug for _, each in containers]),
        reservoir_of=_through(line_reservoir, line_of),
        stands_for=_ints([each.stands_for for _, each in containers]),
        volume_l=np.array([each.volume_l or np.nan for _, each in containers], dtype=np.float64),
        container_rules=_rules([each.rules for _, each in containers]),
        tension=_attached([each.tension for _, each in containers]),
        twin=_attached([each.twin for _, each in containers]),
    )


def _numbered(slugs: Sequence[str]) -> NDArray[np.int64]:
    """The place of each slug in their order as people number things (N,): pot-2 before pot-10."""
    parts = [[(len(part), part) for part in re.findall(r"\d+|\D+", slug)] for slug in slugs]
    place = np.empty(len(slugs), dtype=np.int64)
    place[sorted(range(len(slugs)), key=parts.__getitem__)] = np.arange(len(slugs))
    return place


def _ints(values: Sequence[int]) -> NDArray[np.int64]:
    return np.array(values, dtype=np.int64)


def _through(target: NDArray[np.int64], via: NDArray[np.int64]) -> NDArray[np.int64]:
    """`target[via]`, -1 where `via` is -1."""
    return np.append(target, NONE)[via]


def _rules(rules: Sequence[Rules]) -> RuleTable:
    numbers: dict[Rules, int] = {}
    place = _ints([numbers.setdefault(each, len(numbers)) for each in rules])
    table = np.array([[getattr(each, name) for name in _RULE_COLUMN] for each in numbers], dtype=np.float64)
    return RuleTable(table.reshape(-1, len(_RULE_COLUMN))[place])


def _attached(channels: Sequence[Channel | None]) -> Attached:
    return Attached(
        channel=_ints([NONE if each is None else each.id for each in channels]),
        battery=_ints([NONE if each is None or each.battery is None else each.battery for each in channels]),
        interval_s=np.array(
            [np.nan if each is None or each.interval_s is None else each.interval_s for each in channels],
            dtype=np.float64,
        ),
        since=np.array([stamp(None if each is None else each.since) for each in channels], dtype="datetime64[us]"),
    )


def _tanks(reservoirs: Sequence[Reservoir]) -> TankTable:
    low, high = np.empty(len(reservoirs)), np.empty(len(reservoirs))
    volume = np.empty((len(reservoirs), TANK_POINTS))
    for number, each in enumerate(reservoirs):
        tank = tank_from_keys(each.shape, each.keys)
        low[number], high[number] = tank.lowest_mm, tank.height_mm
        volume[number] = tank.volume_l(np.linspace(tank.lowest_mm, tank.height_mm, TANK_POINTS))
    return TankTable(low, high, volume)

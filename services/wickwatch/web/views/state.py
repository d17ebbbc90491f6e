"""The state of rooms: rules inherited, each container beside its band, each reservoir's water, open alarms.

Pages and the JSON API show the same states from here. Not here: wording, order on a page, or drawing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.agronomy.tank import Tank, tank_from_keys
from wickwatch.errors import InputError
from wickwatch.fleet import Rules, inherit
from wickwatch.store.pages import AlarmRow, ContainerRow, LineRow, ReservoirRow, RoomRow
from wickwatch.store.service import Listed
from wickwatch.texts import time_of_day

#: Where a container's tension lies; `silent` has a value that is too old to trust, `unread` none at all.
Place = Literal["in-band", "dry", "wet", "silent", "unread"]

#: What a room needs: somebody; nothing more, since somebody has it; readings; nothing; nothing while all of it is out
#: of service.
Need = Literal["needs-someone", "has-someone", "no-readings", "quiet", "out-of-service"]

#: What stands in a room, its open alarms, and its parts out of service.
_Parts = tuple[list[ContainerRow], list[ReservoirRow], list[LineRow], list[AlarmRow], list[Listed]]

#: States in which an alarm asks for somebody.
_UNANSWERED = ("unacknowledged", "returned-unacknowledged")

_PRIORITIES = ("high", "medium", "low")


@dataclass(frozen=True)
class ContainerState:
    """A container, its rules, where its tension lies, and whether it is out of service."""

    row: ContainerRow
    rules: Rules
    place: Place
    out: bool = False


@dataclass(frozen=True)
class RunOut:
    """When a reservoir is empty if it is drawn on as before; `soonest` and `latest` span the interval."""

    at: datetime | None
    soonest: datetime | None
    latest: datetime | None
    draw_l_per_h: float


@dataclass(frozen=True)
class ReservoirState:
    """A reservoir and its water; volumes are None where there is no reading or the measures can't be right.

    `usable_l` is what stands above the level at which the line starves, `usable_full_l` the same when it is full.
    """

    row: ReservoirRow
    rules: Rules
    silent: bool
    volume_l: float | None
    usable_l: float | None
    usable_full_l: float | None
    run_out: RunOut | None = None
    out: bool = False

    @property
    def share(self) -> float | None:
        """Usable water as a share of what a full reservoir has, 0 to 1."""
        if self.usable_l is None or not self.usable_full_l:
            return None
        return min(self.usable_l / self.usable_full_l, 1.0)


@dataclass(frozen=True)
class RoomState:
    """Everything known of a room at one moment.

    `alarms` are the open ones, the most urgent first; `out` are its parts out of service, `in_band` the share of the
    last day that its containers were in their band (None where that is not known).
    """

    row: RoomRow
    zone: ZoneInfo
    rules: Rules
    containers: tuple[ContainerState, ...]
    reservoirs: tuple[ReservoirState, ...]
    lines: tuple[LineRow, ...]
    alarms: tuple[AlarmRow, ...]
    heard_at: datetime | None
    out: tuple[Listed, ...] = ()
    in_band: float | None = None

    @property
    def need(self) -> Need:
        """What the room needs, by its alarms, readings and maintenance."""
        if any(alarm.state in _UNANSWERED for alarm in self.alarms):
            return "needs-someone"
        if any(alarm.state == "acknowledged" for alarm in self.alarms):
            return "has-someone"
        if any(each.period.type == "room" for each in self.out):
            return "out-of-service"
        return "no-readings" if self.heard_at is None else "quiet"

    @property
    def lights(self) -> str:
        """When its lights are on, by the facility's clock; the same time twice is light around the clock."""
        on, off = self.row.lights_on, self.row.lights_off
        return "24 h" if on == off else f"{time_of_day(on)}–{time_of_day(off)}"

    def lit(self, now: datetime) -> bool:
        """Whether its lights are on, by its photoperiod."""
        clock = now.astimezone(self.zone).time()
        on, off = self.row.lights_on, self.row.lights_off
        return on <= clock < off if on < off else clock >= on or clock < off

    def at(self, place: Place) -> list[ContainerState]:
        """Containers in service whose tension lies there, the farthest from the set point first."""
        found = [each for each in self.containers if each.place == place and not each.out]
        return sorted(found, key=lambda c: -abs((c.row.tension_mbar or 0.0) - c.rules.set_point_mbar))


def room_states(
    rooms: Sequence[RoomRow],
    containers: Iterable[ContainerRow],
    reservoirs: Iterable[ReservoirRow],
    lines: Iterable[LineRow],
    alarms: Iterable[AlarmRow],
    now: datetime,
    run_outs: Mapping[UUID, RunOut] | None = None,
    out: Iterable[Listed] = (),
) -> list[RoomState]:
    """States of rooms in the order they are given; `run_outs` by reservoir, `out` what is out of service now."""
    of_room: dict[UUID, _Parts] = defaultdict(lambda: ([], [], [], [], []))
    for container in containers:
        of_room[container.room_id][0].append(container)
    for reservoir in reservoirs:
        of_room[reservoir.room_id][1].append(reservoir)
    for line in lines:
        of_room[line.room_id][2].append(line)
    for alarm in alarms:
        if alarm.room_id is not None:
            of_room[alarm.room_id][3].append(alarm)
    for each in out:
        if each.room_id is not None:
            of_room[each.room_id][4].append(each)
    return [_room(room, *of_room[room.id], now, run_outs or {}) for room in rooms]


def urgency(alarm: AlarmRow) -> tuple[int, int, datetime]:
    """Sorts alarms: unanswered before answered, by priority, the longest standing first."""
    answered = {"unacknowledged": 0, "returned-unacknowledged": 1, "acknowledged": 2}.get(alarm.state, 3)
    return answered, _PRIORITIES.index(alarm.priority), alarm.raised_at


def room_rules(room: RoomRow) -> Rules:
    """Rules in force in a room."""
    above = inherit(Rules(), room.facility_rules, room.facility_slug) if room.facility_rules else Rules()
    return inherit(above, room.rules, room.slug) if room.rules else above


def reservoir_tank(row: ReservoirRow) -> Tank | None:
    """The tank of a reservoir, None where its stored measures can't be right."""
    try:
        return tank_from_keys(row.shape, row.keys)
    except InputError:
        return None


def _room(
    room: RoomRow,
    containers: Sequence[ContainerRow],
    reservoirs: Sequence[ReservoirRow],
    lines: Sequence[LineRow],
    alarms: Sequence[AlarmRow],
    out: Sequence[Listed],
    now: datetime,
    run_outs: Mapping[UUID, RunOut],
) -> RoomState:
    rules = room_rules(room)
    resting = _covered(room, lines, containers, reservoirs, out) if out else frozenset()
    heard = [row.read_at for row in containers if row.read_at is not None]
    heard += [row.read_at for row in reservoirs if row.read_at is not None]
    return RoomState(
        row=room,
        zone=ZoneInfo(room.zone),
        rules=rules,
        containers=tuple(_container(row, rules, now, row.id in resting) for row in containers),
        reservoirs=tuple(
            replace(_reservoir(row, rules, now, run_outs.get(row.id)), out=row.id in resting) for row in reservoirs
        ),
        lines=tuple(lines),
        alarms=tuple(sorted(alarms, key=urgency)),
        heard_at=max(heard, default=None),
        out=tuple(out),
    )


def _covered(
    room: RoomRow,
    lines: Sequence[LineRow],
    containers: Sequence[ContainerRow],
    reservoirs: Sequence[ReservoirRow],
    out: Sequence[Listed],
) -> frozenset[UUID]:
    """Containers and reservoirs that are out of service, by the rule of `alarms.service`, among a page's rows."""
    taken = {each.period.part_id for each in out}
    if room.id in taken:
        return frozenset(row.id for rows in (containers, reservoirs) for row in rows)
    dry = taken | {line.id for line in lines if line.reservoir_id in taken}
    taken |= {row.id for row in containers if row.line_id in dry}
    return frozenset(taken | {id for each in out for id in each.measures})


def _container(row: ContainerRow, above: Rules, now: datetime, out: bool) -> ContainerState:
    rules = inherit(above, row.rules, row.slug) if row.rules else above
    place: Place
    if row.tension_mbar is None or row.read_at is None:
        place = "unread"
    elif _too_old(row.read_at, row.interval_s, rules, now):
        place = "silent"
    elif row.tension_mbar > rules.dry_limit_mbar:
        place = "dry"
    elif row.tension_mbar < rules.wet_limit_mbar:
        place = "wet"
    else:
        place = "in-band"
    return ContainerState(row, rules, place, out)


def _reservoir(row: ReservoirRow, above: Rules, now: datetime, run_out: RunOut | None) -> ReservoirState:
    rules = inherit(above, row.rules, row.slug) if row.rules else above
    if row.level_mm is None or row.read_at is None:
        return ReservoirState(row, rules, False, None, None, None)
    silent = _too_old(row.read_at, row.interval_s, rules, now)
    tank = reservoir_tank(row)
    if tank is None:
        return ReservoirState(row, rules, silent, None, None, None)
    levels = (row.level_mm + row.sensor_zero_mm, row.outlet_mm + row.head_mm, tank.height_mm)
    now_l, empty_l, full_l = (float(each) for each in tank.volume_l(tank.clip_level_mm(levels)))
    return ReservoirState(row, rules, silent, now_l, max(now_l - empty_l, 0.0), max(full_l - empty_l, 0.0), run_out)


def _too_old(read_at: datetime, interval_s: float | None, rules: Rules, now: datetime) -> bool:
    """Whether a reading is older than the silence that raises an alarm."""
    allowed_s = max(rules.silent_minutes * 60.0, rules.silent_intervals * (interval_s or 0.0))
    return (now - read_at).total_seconds() > allowed_s

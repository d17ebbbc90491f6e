"""probe-fault: an instrument whose readings can't be believed, and why.

Outside its range, without any change, jittering, out of air or short of water, creeping while its medium does not get
drier, or away from its twin; a level sensor that stands still; a battery that runs out. A leap alone is no fault: a
probe put into another pot leaps, too. Arithmetic of the single faults is in `faults`, `believable`, `drier` and
`batteries`.
"""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import constants as c
from wickwatch.detect.air import climbed, lost_water
from wickwatch.detect.batteries import Which, of
from wickwatch.detect.believable import out_of_range
from wickwatch.detect.clock import moment
from wickwatch.detect.drying_drift import creeping
from wickwatch.detect.evidence import rounded
from wickwatch.detect.faults import roughness
from wickwatch.detect.finding import Finding, Key
from wickwatch.detect.frame import FINE_PER_H
from wickwatch.detect.habits import above_usual, above_usual_by_line
from wickwatch.detect.layout import NONE
from wickwatch.detect.sight import Sight, subject
from wickwatch.detect.stillness import stand_still
from wickwatch.detect.twins import parted
from wickwatch.detect.window import chunks, cut, numbers
from wickwatch.fleet import Channel, Container, Reservoir
from wickwatch.texts import N_

_CHUNK = 2048
_FINE_H = 1.0 / FINE_PER_H


def find(sight: Sight) -> list[Finding]:
    """Findings of containers and reservoirs whose instrument lies; one each, the plainest fault first."""
    place = sight.place
    known = np.flatnonzero(sight.tension.known & ~(sight.settling.container_until > sight.as_of))
    faults: dict[int, tuple[str, float]] = {}
    for part in chunks(len(known), _CHUNK):
        faults |= _of_probes(sight, known[part])
    creep = np.asarray(creeping(sight), dtype=np.int64)
    dry_limit = place.container_rules.of("dry_limit_mbar")
    creep = creep[sight.tension.value[creep] < c.CREEP_LIMIT * dry_limit[creep]]
    for number in creep[~(_peers_dry(sight, creep) | _line_dries(sight, creep))]:
        faults.setdefault(int(number), (N_("rises day by day though its medium does not get drier"), 72.0))
    for number in parted(sight):
        faults.setdefault(number, (N_("drifts away from the second probe beside it"), 72.0))
    found = [
        _finding(sight, place.containers[number], int(place.room_of[number]), number, *fault)
        for number, fault in sorted(faults.items())
    ]
    for number, hours in stuck_levels(sight).items():
        reservoir, room = place.reservoirs[number], int(place.reservoir_room[number])
        found.append(_finding(sight, reservoir, room, number, N_("has not moved at all"), hours))
    return [*found, *_weak(sight, {each.subject.id for each in found})]


def stuck_levels(sight: Sight) -> dict[int, float]:
    """Reservoirs whose level sensor stands still, with the hours for which it has; made once in a sweep."""
    return sight.once("stuck levels", lambda: _stuck_levels(sight))


def _stuck_levels(sight: Sight) -> dict[int, float]:
    which = np.flatnonzero(sight.level.known & ~(sight.settling.reservoir_until > sight.as_of))
    return stand_still(sight, which, sight.level.row, sight.place.level)


def _of_probes(sight: Sight, which: NDArray[np.int64]) -> dict[int, tuple[str, float]]:
    """Faults of the containers' own probes that their last two days show: what is wrong, and for how many hours."""
    frame, place = sight.frame, sight.place
    rows, since = sight.tension.row[which], place.tension.since[which]
    fine = cut(frame.fine, rows, since)
    low, high = (cut(frame.fine, rows, since, c.ROUGH_STEPS, name) for name in ("low", "high"))
    hourly = cut(frame.coarse, rows, since)
    faults: dict[int, tuple[str, float]] = {}

    def note(where: NDArray[np.bool_], what: str, hours: float) -> None:
        for n in numbers(where):
            faults.setdefault(int(which[n]), (what, hours))

    note(out_of_range(fine), N_("reads outside its range"), 0.25)
    for number, hours in stand_still(sight, which, sight.tension.row, place.tension).items():
        faults.setdefault(number, (N_("has not moved at all"), hours))
    rough = roughness(fine[:, -c.ROUGH_STEPS :], low, high) >= c.ROUGH_MBAR
    note(rough, N_("jitters"), c.ROUGH_STEPS * _FINE_H)
    note(lost_water(fine, hourly), N_("has lost its water"), 1.0)
    dry_mbar = place.container_rules.of("dry_limit_mbar")[which]
    note(climbed(fine, hourly, dry_mbar), N_("climbs as no medium dries, air gets in"), 1.0)
    return faults


def _peers_dry(sight: Sight, which: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Where half of the other containers of the room have stood above their dry limits lately."""
    place = sight.place

    def dry() -> NDArray[np.bool_]:
        highest = np.full(len(place.containers), np.nan)
        for part in chunks(len(place.containers), _CHUNK):
            hourly = cut(sight.frame.coarse, sight.tension.row[part], place.tension.since[part], c.AIR_HOURS)
            highest[part] = np.fmax.reduce(hourly, axis=1)
        known = np.isfinite(highest)
        with np.errstate(invalid="ignore"):
            over = known & (highest > place.container_rules.of("dry_limit_mbar"))
        room, rooms = place.room_of, len(place.rooms)
        others = np.bincount(room[known], minlength=rooms)[room] - known
        others_over = np.bincount(room[over], minlength=rooms)[room] - over
        return np.asarray((others > 0) & (others_over >= 0.5 * others))

    return np.asarray(sight.once("peers in drought", dry)[which])


def _line_dries(sight: Sight, which: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Where others of the line, at least `CREEP_OTHERS`, stand well above their usual peaks: the medium does dry."""
    place = sight.place
    if not len(which):
        return np.zeros(0, dtype=np.bool_)
    on_line, over_mbar = above_usual(sight)
    itself = np.isin(which, on_line[over_mbar >= c.PEAK_MARGIN_MBAR])
    of_line = np.append(above_usual_by_line(sight, c.PEAK_MARGIN_MBAR), 0)  # the last is for one on no line, -1
    others = of_line[place.line_of[which]] - itself
    return np.asarray((place.line_of[which] != NONE) & (others >= c.CREEP_OTHERS))


def _weak(sight: Sight, lying: set[UUID]) -> list[Finding]:
    """Instruments whose battery is low, also those that are silent by now; one for each thing, those that lie aside."""
    place, settling = sight.place, sight.settling
    sorts: tuple[tuple[Which, Sequence[Container | Reservoir], NDArray[np.int64], NDArray[np.datetime64]], ...] = (
        ("tension", place.containers, place.room_of, settling.container_until),
        ("twin", place.containers, place.room_of, settling.container_until),
        ("level", place.reservoirs, place.reservoir_room, settling.reservoir_until),
    )
    found: dict[UUID, Finding] = {}
    for which, things, room_of, until in sorts:
        battery = of(sight, which)
        for number in numbers(battery.low & ~(until > sight.as_of)):
            thing: Container | Reservoir = things[number]
            channel: Channel = getattr(thing, which)
            if thing.id in lying or thing.id in found:
                continue
            found[thing.id] = Finding(
                kind="probe-fault",
                subject=subject(thing),
                room_id=place.rooms[int(room_of[number])].id,
                since=moment(battery.low_from[number]),
                evidence={
                    "fault": N_("battery low"),
                    "battery_percent": rounded(battery.percent[number], 0),
                    "device": channel.name.rpartition(":")[0],
                    "twin": which == "twin",
                },
            )
    return list(found.values())


def _finding(sight: Sight, thing: Container | Reservoir, room: int, number: int, what: str, hours: float) -> Finding:
    is_pot = isinstance(thing, Container)
    signal = sight.tension if is_pot else sight.level
    causes: list[Key] = []
    if is_pot and "water" in what:
        # A probe in real drought loses its water, too.
        if sight.place.line_of[number] != NONE:
            causes.append(("supply-interrupted", sight.place.lines[int(sight.place.line_of[number])].id))
        causes.append(("drying-drift", thing.id))
    return Finding(
        kind="probe-fault",
        subject=subject(thing),
        room_id=sight.place.rooms[room].id,
        since=moment(sight.as_of - np.timedelta64(round(3600 * hours), "s")),
        evidence={
            "fault": what,
            "hours": rounded(hours),
            "last_value": rounded(signal.value[number]),
        },
        explained_by=tuple(causes),
    )

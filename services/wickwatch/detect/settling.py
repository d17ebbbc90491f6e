"""Which containers and reservoirs are settling after work, and how far back their history still speaks of them.

A container that was just worked on is expected off target: it is watched, not found. After its time it is judged like
any other, on the readings since. Not here: whether a settling container has arrived (`settled`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect.clock import stamp
from wickwatch.detect.constants import CHANGES_HISTORY, SETTLING_FACTOR
from wickwatch.detect.layout import Layout
from wickwatch.fleet import Work

_NEVER = np.datetime64("NaT", "us")


@dataclass(frozen=True)
class Settling:
    """Per container (N,) and per reservoir (R,); NaT where nothing was done.

    `container_until`: expected off target until then, because of work of which the newest was done at
    `container_from`. `reworked_until`: likewise, but for waterings by hand. `history_from`: earlier readings belong to
    another setting of the emitter or another probe.
    `watered_at`: last watering by hand. `reservoir_until`, `reservoir_from`: likewise, its level is being worked on.
    """

    container_until: NDArray[np.datetime64]
    container_from: NDArray[np.datetime64]
    reworked_until: NDArray[np.datetime64]
    history_from: NDArray[np.datetime64]
    watered_at: NDArray[np.datetime64]
    reservoir_until: NDArray[np.datetime64]
    reservoir_from: NDArray[np.datetime64]


def settles_for(kind: str, settled_hours: float) -> timedelta:
    """How long something settles after work of a kind; `settled_hours` is the rule in force there."""
    return timedelta(hours=SETTLING_FACTOR.get(kind, 0.0) * settled_hours)


def settling(place: Layout, work: Sequence[Work], as_of: np.datetime64) -> Settling:
    """What work up to `as_of` means for each container and reservoir."""
    containers, reservoirs = len(place.containers), len(place.reservoirs)
    until, since, reworked, history, watered = (np.full(containers, _NEVER) for _ in range(5))
    reservoir_until, reservoir_since = (np.full(reservoirs, _NEVER) for _ in range(2))
    settled_hours = place.container_rules.of("settled_hours")
    reservoir_hours = place.reservoir_rules.of("settled_hours")
    for entry in work:
        at = stamp(entry.at)
        if at > as_of:
            continue
        factor = SETTLING_FACTOR.get(entry.kind, 0.0)
        touched = _containers(place, entry)
        if len(touched):
            over = at + _span(factor * settled_hours[touched])
            until[touched] = np.fmax(until[touched], over)
            if factor:
                since[touched] = np.fmax(since[touched], at)
            if entry.kind in CHANGES_HISTORY:
                history[touched] = np.fmax(history[touched], at)
            if entry.kind == "watered-by-hand":
                watered[touched] = np.fmax(watered[touched], at)
            else:
                reworked[touched] = np.fmax(reworked[touched], over)
        tanks = _reservoirs(place, entry)
        if len(tanks):
            reservoir_until[tanks] = np.fmax(reservoir_until[tanks], at + _span(factor * reservoir_hours[tanks]))
            if factor:
                reservoir_since[tanks] = np.fmax(reservoir_since[tanks], at)
    return Settling(until, since, reworked, history, watered, reservoir_until, reservoir_since)


def _span(hours: NDArray[np.float64]) -> NDArray[np.timedelta64]:
    return (hours * 3.6e9).astype("timedelta64[us]")


def _containers(place: Layout, entry: Work) -> NDArray[np.int64]:
    """The container itself, those on the line or reservoir, or those of the room."""
    number = place.number_of.get(entry.subject_id)
    if number is None:
        return np.array([], dtype=np.int64)
    if entry.subject_type == "container":
        return np.array([number])
    column = {"line": place.line_of, "reservoir": place.reservoir_of, "room": place.room_of}
    if entry.subject_type not in column:
        return np.array([], dtype=np.int64)
    return np.flatnonzero(column[entry.subject_type] == number)


def _reservoirs(place: Layout, entry: Work) -> NDArray[np.int64]:
    """The reservoir itself, that of the line, or those of a room under maintenance."""
    number = place.number_of.get(entry.subject_id)
    if number is None:
        return np.array([], dtype=np.int64)
    if entry.subject_type == "reservoir":
        return np.array([number])
    if entry.subject_type == "line":
        return np.array([each for each in [int(place.line_reservoir[number])] if each >= 0], dtype=np.int64)
    if entry.subject_type == "room" and entry.kind == "maintenance":
        return np.flatnonzero(place.reservoir_room == number)
    return np.array([], dtype=np.int64)

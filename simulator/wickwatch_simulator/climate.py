"""Room air over time: lights, temperature and humidity, with weather that differs from day to day.

Works on all rooms at once over one segment of steps (arrays of shape (steps, rooms)). Facility time enters here and
nowhere else. Not here: what plants make of it (`demand`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Bools, Floats
from wickwatch_simulator import keyed
from wickwatch_simulator.plan import Room

#: The medium's temperature follows the air's this slowly.
MEDIUM_LAG_S = 3 * 3600.0
#: Hour-to-hour wobble of temperature [degC] and humidity [%RH], and day-to-day of both; chosen here.
HOURLY = (0.35, 1.5)
DAILY = (0.9, 4.0)


@dataclass(frozen=True)
class Rooms:
    """Climate parameters of each room, shape (rooms,); row 0 of the pairs is temperature, row 1 humidity."""

    zones: tuple[str, ...]
    zone: NDArray[np.intp]
    lights_on_min: Floats
    lights_off_min: Floats
    day: Floats
    night: Floats
    lag_s: Floats


def rooms(plans: Sequence[Room], zone_of: dict[str, str]) -> Rooms:
    """Parameters of rooms in the order given; `zone_of` is the time zone by facility."""
    zones = tuple(sorted(set(zone_of.values())))
    return Rooms(
        zones,
        np.array([zones.index(zone_of[r.facility]) for r in plans], dtype=np.intp),
        np.array([float(r.lights_on_min) for r in plans]),
        np.array([float(r.lights_off_min) for r in plans]),
        np.array([[r.climate.day_degc for r in plans], [r.climate.day_rh for r in plans]]),
        np.array([[r.climate.night_degc for r in plans], [r.climate.night_rh for r in plans]]),
        np.array([r.climate.lag_s for r in plans]),
    )


def utc_offset_min(zone: str, at_s: int) -> int:
    """Minutes that a zone's clock is ahead of UTC at a moment [s since 1970]."""
    offset = datetime.fromtimestamp(at_s, UTC).astimezone(ZoneInfo(zone)).utcoffset()
    assert offset is not None
    return int(offset.total_seconds() // 60)


def local_minute(rooms: Rooms, at_s: NDArray[np.int64]) -> Floats:
    """Facility time of each room at each step, minutes after midnight, shape (steps, rooms).

    The steps lie within one hour of UTC; zones change their offset on the hour.
    """
    offsets = np.array([utc_offset_min(zone, int(at_s[0])) for zone in rooms.zones])[rooms.zone]
    return np.asarray((at_s[:, np.newaxis] / 60.0 + offsets) % 1440.0)


def lit(minute: Floats, on_min: Floats, off_min: Floats) -> Bools:
    """Whether lights are on; off before on means over midnight, off equal to on means always."""
    length = (off_min - on_min) % 1440.0
    return np.asarray(((minute - on_min) % 1440.0 < length) | (length == 0))


def weather(seed: int, count: int, at_s: NDArray[np.int64]) -> Floats:
    """Departures of temperature and humidity from target, (2, steps, count); straight from one hour to the next."""
    out = np.zeros((2, len(at_s), count))
    for purpose, span, sizes in (("hour", 3600, HOURLY), ("day", 86400, DAILY)):
        number = int(at_s[0]) // span
        before, after = (keyed.generator(seed, purpose, n).standard_normal((2, count)) for n in (number, number + 1))
        share = ((at_s - number * span) / span)[:, np.newaxis]
        for row, size in enumerate(sizes):
            out[row] += size * (before[row] + (after[row] - before[row]) * share)
    return out

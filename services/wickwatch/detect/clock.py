"""Where in its photoperiod a room is at given moments.

Lights follow the facility's wall clock, so a room keeps its hours through a daylight-saving change. Not here: what any
detector makes of light and dark.
"""

from __future__ import annotations

from datetime import UTC, datetime, time
from functools import lru_cache
from typing import cast
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

DAY_MIN = 1440


def moment(at: np.datetime64) -> datetime:
    """The same time as an aware datetime in UTC."""
    return cast(datetime, at.astype("datetime64[us]").item()).replace(tzinfo=UTC)


#: Hours ahead beyond which no moment is named: nobody plans by a forecast of years.
FARTHEST_H = 24.0 * 365.0


def after(as_of: np.datetime64, hours: float) -> datetime | None:
    """The moment so many hours ahead; None where that is none, has come, or lies beyond a year."""
    return moment(as_of + np.timedelta64(round(3600 * hours), "s")) if 0.0 < hours < FARTHEST_H else None


def stamp(at: datetime | None) -> np.datetime64:
    """The same time as datetime64[us] in UTC; NaT for None."""
    return np.datetime64("NaT", "us") if at is None else np.datetime64(at.astimezone(UTC).replace(tzinfo=None), "us")


def hours_since(at: NDArray[np.datetime64], now: np.datetime64) -> NDArray[np.float64]:
    """Hours from each time to `now`; NaN for NaT."""
    return np.asarray((at - now) / np.timedelta64(-3_600_000_000, "us"))


def local_minutes(zone: ZoneInfo, times: NDArray[np.datetime64]) -> NDArray[np.int64]:
    """Minute of the facility's day (0..1439) of each time (datetime64, ascending), shape of the argument."""
    minutes = times.astype("datetime64[m]").astype(np.int64)
    # An offset from UTC changes on the quarter-hour at the finest, so one look-up per quarter serves all times in it.
    quarters, place = np.unique(minutes // 15, return_inverse=True)
    offsets = np.array([_offset_min(zone, int(quarter) * 15) for quarter in quarters], dtype=np.int64)
    return (minutes + offsets[place.reshape(minutes.shape)]) % DAY_MIN


@lru_cache(maxsize=16384)  # half a year of quarters: sweeps ask for the same ones again and again
def _offset_min(zone: ZoneInfo, minute: int) -> int:
    offset = datetime.fromtimestamp(minute * 60, zone).utcoffset()
    assert offset is not None  # an aware time always has one
    return int(offset.total_seconds() // 60)


def lit_minutes(lights_on: time, lights_off: time) -> int:
    """Minutes of light a day, 1..1440; off at the minute of on means that they never go off."""
    return (minute_of(lights_off) - minute_of(lights_on)) % DAY_MIN or DAY_MIN


def minute_of(clock: time) -> int:
    """Minute of the day, 0..1439."""
    return clock.hour * 60 + clock.minute


def since_lights_on(
    zone: ZoneInfo, times: NDArray[np.datetime64], lights_on_min: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Minutes since lights went on, 0..1439, for rooms (R,) at times (T,): shape (R, T)."""
    return (local_minutes(zone, times)[np.newaxis, :] - lights_on_min[:, np.newaxis]) % DAY_MIN


def same_hours(zone: ZoneInfo, times: NDArray[np.datetime64]) -> NDArray[np.int64]:
    """Columns of hourly `times` (T,) by hour of the facility's day: shape (24, D), the newest first, -1 for none.

    Since lights follow the wall clock, the same hour of the day is the same part of every room's photoperiod. The hour
    that a daylight-saving change skips or repeats is missing or there twice.
    """
    hour = local_minutes(zone, times) // 60
    columns = [np.flatnonzero(hour == each)[::-1] for each in range(24)]
    found = np.full((24, max(map(len, columns))), -1, dtype=np.int64)
    for each, column in enumerate(columns):
        found[each, : len(column)] = column
    return found

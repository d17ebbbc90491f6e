"""When each reservoir runs out, remembered for a few minutes, since it follows from days of draw.

The draw by day and by night is fitted over the last days between refills, and the water there is now is drawn by it
hour by hour. What the watch found counts more, since it also sees what is extra. Not here: the
statistics (`agronomy`), or an alarm for it (`detect`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy import draw, forecast, segments
from wickwatch.agronomy.arrays import Interval
from wickwatch.agronomy.tank import MM3_PER_L
from wickwatch.detect import constants
from wickwatch.detect.clock import DAY_MIN, lit_minutes, minute_of
from wickwatch.store import pages
from wickwatch.store.connect import Connection
from wickwatch.store.pages import ReservoirRow, RoomRow
from wickwatch.web.recent import Recent
from wickwatch.web.views.state import RunOut, reservoir_tank

#: Hours of levels that tell the draw, as the detector of low reservoirs takes them.
HOURS = 24 * constants.DRAW_DAYS

#: A draw is told again when it is this old, and no more than so many are kept.
LIFE = timedelta(minutes=5)
MOST = 50_000

#: Fewest hours of levels that tell anything.
_FEWEST = 12

#: A draw smaller than this part of the tank in a day can't be told from noise: no end is named.
_LEAST_PER_DAY = 0.005


class RunOuts:
    """Run-outs by reservoir."""

    def __init__(self) -> None:
        self._recent: Recent[RunOut] = Recent(LIFE, MOST)

    def of(
        self, conn: Connection, rooms: Sequence[RoomRow], reservoirs: Sequence[ReservoirRow], now: datetime
    ) -> dict[UUID, RunOut]:
        """Run-outs of those reservoirs for which one can be told."""
        ids = [row.id for row in reservoirs]
        told = self._recent.of(
            ids, now, lambda due: run_outs(conn, rooms, [row for row in reservoirs if row.id in due], now)
        )
        # An alarm and the page name the same time: where the watch has found a reservoir low, its time counts.
        for id, at in pages.low_until(conn, ids).items():
            told[id] = replace(told.get(id, RunOut(None, None, None, 0.0)), at=at)
        return told


def run_outs(
    conn: Connection, rooms: Sequence[RoomRow], reservoirs: Sequence[ReservoirRow], now: datetime
) -> dict[UUID, RunOut]:
    """Run-outs of those reservoirs for which one can be told, by reservoir."""
    channels = [row.channel_id for row in reservoirs if row.channel_id is not None]
    hour = now.astimezone(UTC).replace(minute=0, second=0, microsecond=0)
    start = hour - timedelta(hours=HOURS)
    levels = pages.means(conn, channels, start, hour, timedelta(hours=1))
    by_room: dict[UUID, list[ReservoirRow]] = defaultdict(list)
    for row in reservoirs:
        if row.channel_id in levels and row.level_mm is not None:
            by_room[row.room_id].append(row)
    found: dict[UUID, RunOut] = {}
    for lights, group in _by_lights(rooms, by_room).items():
        found |= _told(group, lights, levels, start, now)
    return found


_Lights = tuple[str, time, time]


def _by_lights(
    rooms: Sequence[RoomRow], by_room: Mapping[UUID, list[ReservoirRow]]
) -> dict[_Lights, list[ReservoirRow]]:
    """Reservoirs whose rooms share one photoperiod, so that they are told together."""
    groups: dict[_Lights, list[ReservoirRow]] = defaultdict(list)
    for room in rooms:
        groups[room.zone, room.lights_on, room.lights_off].extend(by_room.get(room.id, []))
    return {lights: group for lights, group in groups.items() if group}


def _told(
    group: Sequence[ReservoirRow],
    lights: _Lights,
    levels: Mapping[int, NDArray[np.float64]],
    start: datetime,
    now: datetime,
) -> dict[UUID, RunOut]:
    rows, volumes, usable, full, rise = [], [], [], [], []
    for row in group:
        tank = reservoir_tank(row)
        if tank is None or row.channel_id is None or row.level_mm is None:
            continue
        series = levels[row.channel_id]
        if np.count_nonzero(~np.isnan(series)) < _FEWEST:
            continue
        empty = float(tank.clip_level_mm(row.outlet_mm + row.head_mm))
        rows.append(row)
        volumes.append(tank.volume_l(tank.clip_level_mm(series + row.sensor_zero_mm)))
        usable.append(float(tank.usable_l(tank.clip_level_mm(row.level_mm + row.sensor_zero_mm), empty)))
        full.append(tank.full_l)
        rise.append(float(tank.area_mm2(tank.height_mm / 2.0)) * constants.LEVEL_RISE_MM / MM3_PER_L)
    if not rows:
        return {}
    lit, since_on = _photoperiod(lights, now)
    first = since_on - (now - start) / timedelta(hours=1) + 0.5
    hours = first + np.arange(HOURS, dtype=np.float64)
    drawn, day, night = _draw(np.stack(volumes), hours, lit, np.array(rise))
    ends = forecast.hours_to_draw(np.array(usable), day, night, since_on, lit)
    least = _LEAST_PER_DAY * np.array(full)
    return {
        row.id: RunOut(
            at=_moment(now, ends.value[number]),
            soonest=_moment(now, ends.low[number]),
            latest=_moment(now, ends.high[number]),
            draw_l_per_h=float(drawn[number] / 24.0),
        )
        for number, row in enumerate(rows)
        if drawn[number] > least[number] and np.isfinite(ends.value[number])
    }


def _draw(
    volumes: NDArray[np.float64], hours: NDArray[np.float64], lit: float, rise: NDArray[np.float64]
) -> tuple[NDArray[np.float64], Interval, Interval]:
    """Litres a day, and the rates by day and night; none where nothing tells."""
    refilled = segments.rising(volumes, constants.RISE_HOURS, rise)
    rates = draw.draw_between_refills(volumes, hours, np.full(len(volumes), lit), refilled, constants.INTERVAL)
    day, night = (Interval(*(np.nan_to_num(end) for end in rate.ends)) for rate in rates)
    daily = np.maximum(day.value, 0.0) * lit + np.maximum(night.value, 0.0) * (24.0 - lit)
    return np.where(np.isnan(daily), 0.0, daily), day, night


def _photoperiod(lights: _Lights, now: datetime) -> tuple[float, float]:
    """Hours of light a day, and hours since the lights last came on, by the facility's clock."""
    zone, on, off = lights
    since_on = minute_of(now.astimezone(ZoneInfo(zone)).time()) - minute_of(on)
    return lit_minutes(on, off) / 60.0, since_on % DAY_MIN / 60.0


def _moment(now: datetime, hours: float) -> datetime | None:
    """A time so many hours from now, None where it is years away."""
    return now + timedelta(hours=float(hours)) if hours < 24 * 400 else None

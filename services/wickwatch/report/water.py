"""Water: how much each reservoir gave in a week by day and by night, what is left, and when it will run out.

Not here: what left it (`used`), nor who is sent round (`todo`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Floats, Interval
from wickwatch.agronomy.draw import draw_between_refills
from wickwatch.agronomy.forecast import hours_to_draw
from wickwatch.agronomy.segments import rising
from wickwatch.detect import constants as c
from wickwatch.detect.clock import FARTHEST_H, since_lights_on
from wickwatch.detect.layout import Layout
from wickwatch.report.readings import Readings
from wickwatch.report.used import Used, used_of
from wickwatch.report.week import Week

#: A level older than this many hours tells nothing of how long the water lasts. Chosen here.
_FRESH_H = 6.0


@dataclass(frozen=True)
class Water:
    """A week of R reservoirs.

    `volume_l` (R, T) on the grid of the readings; `day` and `night` draw [l/h]; `left_l` usable at the end of the week
    or when it was last heard, `room_l` what goes in until it is full, `lasts` [h] from the end of the week, infinite
    beyond a year; NaN where nothing tells.
    """

    volume_l: Floats
    times: NDArray[np.datetime64]
    used: Used
    day: Interval
    night: Interval
    left_l: Floats
    room_l: Floats
    lasts: Interval


def volume(place: Layout, seen: Readings, columns: slice) -> Floats:
    """Litres (R, T) by level; a level beyond the tank is taken as its rim or bottom."""
    return place.tanks.litres(seen.level_mm[:, columns].astype(np.float64) + place.zero_mm[:, np.newaxis])


def water(place: Layout, near: Readings, hourly: Readings, week: Week) -> Water:
    """All of one week."""
    columns = near.columns(week.start, week.until)
    litres, times = volume(place, near, columns), near.times[columns]
    day, night = _draw(place, hourly, week)
    used = used_of(place, near, columns, week, day, night)
    left, room, age_h = _last(place, litres, times, near.step)
    lit_h = place.lights_min[place.reservoir_room] / 60.0
    at_end = times[-1] + near.step if len(times) else np.datetime64(0, "us")
    hour = since_lights_on(week.zone, np.array([at_end]), place.lights_on_min[place.reservoir_room])[:, 0] / 60.0
    lasts = _within_reach(hours_to_draw(np.where(age_h <= _FRESH_H, left, np.nan), day, night, hour, lit_h))
    return Water(litres, times, used, day, night, left, room, lasts)


def _within_reach(hours: Interval) -> Interval:
    """What lies beyond any plan is never: of a level that stands still, rounding alone makes a draw."""
    return Interval(*(np.where(end > FARTHEST_H, np.inf, end) for end in hours.ends))


def _draw(place: Layout, hourly: Readings, week: Week) -> tuple[Interval, Interval]:
    """Draw by day and by night over the week's hours."""
    columns = hourly.columns(week.start, week.until)
    litres, times = volume(place, hourly, columns), hourly.times[columns]
    if not litres.size:
        nothing = np.full(len(place.reservoirs), np.nan)
        return (Interval(nothing, nothing, nothing),) * 2
    level = hourly.level_mm[:, columns].astype(np.float64)
    refilled = rising(level, c.RISE_HOURS, np.full(len(level), c.LEVEL_RISE_MM))
    room = place.reservoir_room
    middle = times + hourly.step / 2
    start_hour = since_lights_on(week.zone, middle[:1], place.lights_on_min[room])[:, 0] / 60.0
    hours = (middle - middle[0]) / np.timedelta64(1, "h") + start_hour[:, np.newaxis]
    lit_h = place.lights_min[room] / 60.0
    return draw_between_refills(litres, hours, lit_h, refilled, c.INTERVAL)


def _last(
    place: Layout, litres: Floats, times: NDArray[np.datetime64], step: np.timedelta64
) -> tuple[Floats, Floats, Floats]:
    """Usable litres and free room by the last hour that was heard, and how many hours before the end that was."""
    count = len(place.reservoirs)
    if not litres.shape[1]:
        return np.full(count, np.nan), np.full(count, np.nan), np.full(count, np.inf)
    ends = np.stack([place.empty_mm, place.tanks.high_mm], axis=1)
    empty_l, full_l = place.tanks.litres(ends).T
    column = np.arange(litres.shape[1])
    last = np.where(np.isfinite(litres), column, -1).max(axis=1)
    width = max(int(np.timedelta64(1, "h") / step), 1)
    recent = (column > last[:, np.newaxis] - width) & (column <= last[:, np.newaxis]) & np.isfinite(litres)
    count_of = recent.sum(axis=1)
    now = np.where(count_of > 0, np.where(recent, litres, 0.0).sum(axis=1) / np.maximum(count_of, 1), np.nan)
    age_h = (litres.shape[1] - 1 - last) * float(step / np.timedelta64(1, "h"))
    return np.maximum(now - empty_l, 0.0), full_l - now, np.where(last >= 0, age_h, np.inf)


def run_out(seen: Water, number: int, week: Week) -> tuple[datetime, datetime] | None:
    """When a reservoir is expected to run out, and the earliest moment that is likely; None where nothing tells."""
    hours, early = float(seen.lasts.value[number]), float(seen.lasts.low[number])
    if not np.isfinite(hours):
        return None
    sooner = early if np.isfinite(early) else hours
    return week.until + timedelta(hours=hours), week.until + timedelta(hours=sooner)

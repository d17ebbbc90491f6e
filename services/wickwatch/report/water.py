"""Water: what left each reservoir in a week, the refills in between, and when it will run out.

What left is the fall of volume between refills, end to end, so that noise does not add up; while water rises, plants
drink on at the rate of that time of the day. What evaporates or leaks is among it: a level can't tell. Not here:
refills against what was written down (`refills`), nor who is sent round (`todo`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Floats, Interval
from wickwatch.agronomy.draw import day_and_night_draw, light_hours
from wickwatch.agronomy.forecast import hours_to_draw
from wickwatch.agronomy.robust import running_median
from wickwatch.agronomy.segments import rising, segments_between_jumps
from wickwatch.detect import constants as c
from wickwatch.detect.clock import DAY_MIN, since_lights_on
from wickwatch.detect.layout import Layout
from wickwatch.report.readings import COARSE, Readings
from wickwatch.report.week import Week

#: Steps at either end of a stretch whose mean volume counts, on the fine grid and on that of hours. Chosen here: half
#: an hour of a level's noise.
_ENDS = (6, 1)

#: Steps within which a rise is one refill, likewise.
_RISE = (c.REFILL_STEPS, c.RISE_HOURS)

#: So many hours without a level at the beginning or end of a week are still filled in at the usual rate. Chosen here.
_FILLED_IN_H = 2.0

#: Least share of a week that must be known for its water to count as that of a week. Chosen here.
ENOUGH = 0.5

#: A level older than this many hours tells nothing of how long the water lasts. Chosen here.
_FRESH_H = 6.0


@dataclass(frozen=True)
class Refill:
    """Water that came: `reservoir` is its number, `litres` its rise and what was drawn meanwhile."""

    reservoir: int
    start: np.datetime64
    end: np.datetime64
    litres: float


@dataclass(frozen=True)
class Used:
    """Of R reservoirs: litres that left within the hours that are known, and the refills among them."""

    litres: Floats
    hours: Floats
    refills: tuple[Refill, ...]


@dataclass(frozen=True)
class Water:
    """A week of R reservoirs.

    `volume_l` (R, T) on the grid of the readings; `day` and `night` draw [l/h]; `left_l` usable at the end of the week
    or when it was last heard, `room_l` what goes in until it is full, `lasts` [h] from the end of the week; NaN where
    nothing tells.
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
    level = seen.level_mm[:, columns].astype(np.float64) + place.zero_mm[:, np.newaxis]
    return np.where(np.isfinite(level), place.tanks.litres(level), np.nan)


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
    lasts = hours_to_draw(np.where(age_h <= _FRESH_H, left, np.nan), day, night, hour, lit_h)
    return Water(litres, times, used, day, night, left, room, lasts)


def per_container(place: Layout, used: Used, room: int, week: Week) -> float:
    """Litres a container and day of a room; NaN unless all its reservoirs were heard for most of the week."""
    tanks = np.flatnonzero(place.reservoir_room == room)
    containers = int(place.stands_for[place.room_of == room].sum())
    if not len(tanks) or not containers or (used.hours[tanks] < ENOUGH * week.hours).any():
        return float("nan")
    return float((used.litres[tanks] / used.hours[tanks] * 24.0).sum()) / containers


def used_of(place: Layout, seen: Readings, columns: slice, week: Week, day: Interval, night: Interval) -> Used:
    """What left each reservoir in a stretch of time, and how many of its hours are known."""
    level = seen.level_mm[:, columns].astype(np.float64)
    times, hourly = seen.times[columns], int(seen.step == COARSE)
    count = len(place.reservoirs)
    litres, hours = np.full(count, np.nan), np.zeros(count)
    refills: list[Refill] = []
    if not level.shape[1]:
        return Used(litres, hours, ())
    smooth = running_median(level, 3)
    jumps = rising(level, _RISE[hourly], np.full(count, c.LEVEL_RISE_MM))
    parts = segments_between_jumps(jumps, smooth)
    content = np.where(np.isfinite(smooth), place.tanks.litres(smooth + place.zero_mm[:, np.newaxis]), np.nan)
    # Hours since the lights first came on, and how many of them were lit, for what is drawn unseen.
    lit = _lit(place, week, times)
    for number in range(count):
        rate = _Rate(times, lit[number], float(day.value[number]), float(night.value[number]))
        found = _sum(content[number], parts[number], level[number], rate, _ENDS[hourly], seen.step)
        litres[number], hours[number] = found.litres, found.hours
        refills += [
            Refill(number, times[first], times[min(last, len(times) - 1)], added)
            for first, last, added in found.refills
        ]
    return Used(litres, hours, tuple(sorted(refills, key=lambda each: (each.start, each.reservoir))))


@dataclass(frozen=True)
class _Rate:
    """What one reservoir usually gives, to fill in what was not seen; `lit_h` (T,) counts hours of light."""

    times: NDArray[np.datetime64]
    lit_h: Floats
    day: float
    night: float

    def between(self, first: float, last: float) -> float:
        """Litres drawn between two places (numbers of steps, with fractions) of the grid."""
        place = np.arange(len(self.times))
        step_h = float((self.times[1] - self.times[0]) / np.timedelta64(1, "h")) if len(self.times) > 1 else 0.0
        lit = float(np.interp(last, place, self.lit_h) - np.interp(first, place, self.lit_h))
        return self.day * lit + self.night * max((last - first) * step_h - lit, 0.0)


@dataclass(frozen=True)
class _Sum:
    litres: float
    hours: float
    refills: list[tuple[int, int, float]]


def _sum(
    content: Floats, parts: NDArray[np.int64], level: Floats, rate: _Rate, ends: int, step: np.timedelta64
) -> _Sum:
    """Falls between refills, what was drawn during them, and at the ends of the week."""
    step_h = float(step / np.timedelta64(1, "h"))
    litres = covered = 0.0
    refills: list[tuple[int, int, float]] = []
    before: tuple[float, float, float, int] | None = None  # place, litres, level and column where a stretch ended
    first_place = last_place = None
    for part in range(int(parts.max(initial=-1)) + 1):
        at = np.flatnonzero(parts == part)
        head, tail = at[: min(ends, (len(at) + 1) // 2)], at[-min(ends, (len(at) + 1) // 2) :]
        begins, ended = float(head.mean()), float(tail.mean())
        if first_place is None:
            first_place = begins
        if before is not None:
            rise = float(content[head].mean()) - before[1]
            drawn = rate.between(before[0], begins)
            if float(np.nanmean(level[head])) - before[2] < c.LEVEL_RISE_MM:
                litres -= rise  # a wave, a splash, a knock: the water is where it was
                covered += begins - before[0]
            elif np.isfinite(drawn):
                refills.append((before[3], int(head[0]), rise + drawn))
                litres += drawn
                covered += begins - before[0]
            else:
                refills.append((before[3], int(head[0]), rise))
        litres += float(content[head].mean() - content[tail].mean())
        covered += ended - begins
        before = (ended, float(content[tail].mean()), float(np.nanmean(level[tail])), int(tail[-1]))
        last_place = ended
    if first_place is None or last_place is None:
        return _Sum(float("nan"), 0.0, [])
    length = len(content)
    for start, end in ((-0.5, first_place), (last_place, length - 0.5)):
        if (end - start) * step_h <= _FILLED_IN_H and end > start:
            edge = max(start, 0.0), min(end, length - 1.0)
            whole = rate.between(*edge) * (end - start) / max(edge[1] - edge[0], 1e-9) if edge[1] > edge[0] else np.nan
            if np.isfinite(whole):
                litres += float(whole)
                covered += end - start
    return _Sum(litres, covered * step_h, refills)


def _lit(place: Layout, week: Week, times: NDArray[np.datetime64]) -> Floats:
    """Hours of light (R, T) up to each time; only differences mean anything."""
    room = place.reservoir_room
    since = since_lights_on(week.zone, times, place.lights_on_min[room]) / 60.0
    # Whole days are counted where the hour since lights-on falls back by more than a change of clocks would.
    days = np.concatenate([np.zeros((len(since), 1)), np.cumsum(np.diff(since, axis=1) < -12.0, axis=1)], axis=1)
    return light_hours(24.0 * days + since, (place.lights_min[room] / 60.0)[:, np.newaxis])


def _draw(place: Layout, hourly: Readings, week: Week) -> tuple[Interval, Interval]:
    """Draw by day and by night over the week's hours; a rate that nothing tells of is taken as the other."""
    columns = hourly.columns(week.start, week.until)
    litres, times = volume(place, hourly, columns), hourly.times[columns]
    if not litres.size:
        nothing = np.full(len(place.reservoirs), np.nan)
        return (Interval(nothing, nothing, nothing),) * 2
    level = hourly.level_mm[:, columns].astype(np.float64)
    parts = segments_between_jumps(rising(level, c.RISE_HOURS, np.full(len(level), c.LEVEL_RISE_MM)), litres)
    room = place.reservoir_room
    middle = times + hourly.step / 2
    start_hour = since_lights_on(week.zone, middle[:1], place.lights_on_min[room])[:, 0] / 60.0
    hours = (middle - middle[0]) / np.timedelta64(1, "h") + start_hour[:, np.newaxis]
    lit_h = place.lights_min[room] / 60.0
    drawn = day_and_night_draw(litres, hours, lit_h, parts, confidence=c.INTERVAL)
    day, night = _or_else(drawn.day, drawn.night), _or_else(drawn.night, drawn.day)
    always = lit_h >= DAY_MIN / 60
    return day, Interval(*(np.where(always, a, b) for a, b in zip(day.ends, night.ends, strict=True)))


def _or_else(one: Interval, other: Interval) -> Interval:
    missing = np.isnan(one.value)
    return Interval(*(np.where(missing, b, a) for a, b in zip(one.ends, other.ends, strict=True)))


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

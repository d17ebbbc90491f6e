"""What left each reservoir in a stretch of time, and the refills in it.

What left is the fall of volume between refills, end to end, so that noise does not add up; while water rises, plants
drink on at the rate of that time of the day. What evaporates or leaks is among it: a level can't tell. Not here: that
rate, nor how long the water lasts (`water`), nor refills against what was written down (`refills`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Floats, Interval
from wickwatch.agronomy.draw import light_hours
from wickwatch.agronomy.robust import running_median
from wickwatch.agronomy.segments import rising, segments_between_jumps
from wickwatch.detect import constants as c
from wickwatch.detect.clock import since_lights_on
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


def total(litres: Floats) -> float:
    """What is known of the water of some reservoirs [l]; NaN where nothing is."""
    return float(np.nansum(litres)) if np.isfinite(litres).any() else float("nan")


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
    content = place.tanks.litres(smooth + place.zero_mm[:, np.newaxis])
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

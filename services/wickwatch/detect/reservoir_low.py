"""reservoir-low: at the present draw, or a little more, the reservoir runs empty within the rule's hours.

The draw by day and by night is fitted together over the last days between refills; what leaves beyond that now, a leak
or an emitter stuck open, is added; what was drawn days ago and no more for a day is not believed. Only reservoirs that
could be low are fitted, since fitting is what costs. Not here: that it is empty (`reservoir_empty`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Interval
from wickwatch.agronomy.draw import draw_between_refills
from wickwatch.agronomy.forecast import hours_to_draw
from wickwatch.agronomy.segments import carried_on, rising
from wickwatch.detect import constants as c
from wickwatch.detect.clock import DAY_MIN, after, moment, since_lights_on
from wickwatch.detect.drought import catches_up
from wickwatch.detect.evidence import rounded
from wickwatch.detect.excess import excess
from wickwatch.detect.finding import Finding
from wickwatch.detect.peaks import DAY_HOURS
from wickwatch.detect.sight import Sight, subject
from wickwatch.detect.window import cut, numbers


@dataclass(frozen=True)
class Outlook:
    """How long N reservoirs last: `which` are their numbers, the rest (N,); draws in l/h, times in hours.

    `sooner` is how long at the draw that growth and drier air soon make of this one (`LOW_MORE`).
    """

    which: NDArray[np.int64]
    usable_l: NDArray[np.float64]
    day: Interval
    night: Interval
    hours: Interval
    sooner: NDArray[np.float64]
    extra_l_per_h: NDArray[np.float64]


def find(sight: Sight) -> list[Finding]:
    """Findings of reservoirs that run empty within their rule's hours."""
    rule = sight.place.reservoir_rules.of("low_hours")
    which = _perhaps_low(sight, rule)
    if not len(which):
        return []
    seen = outlook(sight, which)
    late = _as_of_late(sight, rule, c.LOW_DAY_MORE)[which]
    low = (seen.sooner <= rule[seen.which]) & (late | (seen.extra_l_per_h > 0.0))
    return [_finding(sight, seen, n) for n in numbers(low)]


def not_clear(sight: Sight) -> NDArray[np.int64]:
    """Numbers of reservoirs that are not clear of low: what is left would not last much longer, and nobody filled it.

    The draw that is foretold changes from hour to hour; that alone is no water.
    """
    levels, lately = sight.levels, sight.levels.series_mm[:, -c.LEVEL_STEPS :]
    close = _as_of_late(sight, sight.place.reservoir_rules.of("low_hours"), c.LOW_CLEAR)
    with np.errstate(invalid="ignore"):
        close &= levels.now_mm - np.fmin.reduce(lately, axis=1) <= c.LEVEL_RISE_MM
    return np.flatnonzero(sight.level.known & close)


def outlook(sight: Sight, which: NDArray[np.int64]) -> Outlook:
    """Fit and forecast the given reservoirs."""
    place, levels = sight.place, sight.levels
    room = place.reservoir_room[which]
    lit_h = place.lights_min[room] / 60.0
    hour = since_lights_on(sight.facility.zone, np.array([sight.as_of]), place.lights_on_min[room])[:, 0] / 60.0
    ends = np.stack([levels.now_mm[which], place.empty_mm[which]], axis=1)
    volume = place.tanks.litres(ends, which)
    usable = np.maximum(volume[:, 0] - volume[:, 1], 0.0)
    fitted = sight.by_hour("draw", len(place.reservoirs), which, lambda some: _fit(sight, some))
    day, night = Interval(*fitted.T[:3]), Interval(*fitted.T[3:])
    extra, by_day, by_night = _extra(sight, which), *_usual(sight, which)
    # The fit has seen some of what is extra, usual hours have not.
    lasting = (extra > 0.0) & np.isfinite(by_day + by_night)
    extra = np.where(lasting, extra, 0.0)
    day = _where(lasting, _shifted(day, by_day + extra - day.value), day)
    night = _where(lasting, _shifted(night, by_night + extra - night.value), night)
    sooner = hours_to_draw(usable / c.LOW_MORE, day, night, hour, lit_h).value
    return Outlook(which, usable, day, night, _wider(hours_to_draw(usable, day, night, hour, lit_h)), sooner, extra)


def _extra(sight: Sight, which: NDArray[np.int64]) -> NDArray[np.float64]:
    """What leaves reservoirs (N,) beyond usual and will go on [l/h], 0 for none.

    What lasts through both halves of the last hours is a leak or the like; lines that catch up after a closed valve, or
    a sensor that comes loose, fill one. A pot that took much within an hour may fill both, but has had it by now.
    """
    now, before = excess(sight, which, c.EXCESS_HOURS), excess(sight, which, c.EXCESS_HOURS, c.EXCESS_HOURS)
    lately = excess(sight, which, c.EXCESS_HOURS / 2.0)
    both = np.minimum(now.l_per_h, before.l_per_h)
    with np.errstate(invalid="ignore"):
        lasting = now.significant & before.significant & (lately.l_per_h >= c.LEAK_EVEN * both)
    return np.where(lasting & ~catches_up(sight, which), both, 0.0)


def _wider(hours: Interval) -> Interval:
    """The interval as wide as forecasts have turned out to be; where an end is infinite it stays so."""
    with np.errstate(invalid="ignore"):
        low = hours.value - c.EMPTY_WIDER * (hours.value - hours.low)
        high = hours.value + c.EMPTY_WIDER * (hours.high - hours.value)
    return Interval(
        hours.value,
        np.where(np.isfinite(low), np.maximum(low, 0.0), hours.low),
        np.where(np.isfinite(high), high, hours.high),
    )


def _as_of_late(sight: Sight, low_hours: NDArray[np.float64], more: float) -> NDArray[np.bool_]:
    """Where reservoirs run empty within their hours (R,) by `more` times what fell in the last day, whatever was drawn
    before it: of fewer than a day, by what fell in the same hours of yesterday.
    """
    fallen = _fallen(sight)[:, -DAY_HOURS:]
    ahead = np.clip(np.ceil(low_hours), 1, fallen.shape[1]).astype(np.int64)
    in_them = np.take_along_axis(np.cumsum(fallen, axis=1), ahead[:, np.newaxis] - 1, axis=1)[:, 0]
    left = sight.levels.now_mm - sight.place.empty_mm
    with np.errstate(invalid="ignore"):
        return np.asarray(left <= more * in_them * np.maximum(low_hours / ahead, 1.0))


def _fallen(sight: Sight) -> NDArray[np.float64]:
    """By how much levels have fallen in each of the last hours (R, H) [mm], 0 where they rose or nothing is known.

    What fell while a sensor was silent is counted in the hour in which it spoke again.
    """

    def made() -> NDArray[np.float64]:
        series = sight.levels.series_mm
        per_hour = int(np.timedelta64(1, "h") / sight.frame.fine.step)
        hours = series.shape[1] // per_hour
        lowest = np.fmin.reduce(series[:, -hours * per_hour :].reshape(len(series), hours, per_hour), axis=2)
        held = carried_on(lowest)
        return np.asarray(np.nan_to_num(np.fmax(held[:, :-1] - held[:, 1:], 0.0)))

    return sight.once("levels fallen by the hour", made)


def _perhaps_low(sight: Sight, low_hours: NDArray[np.float64]) -> NDArray[np.int64]:
    """Reservoirs that a generous guess could make low: as much again as fell in the last day, or in its worst hours."""
    fallen = _fallen(sight)
    by_day = fallen[:, -DAY_HOURS:].sum(axis=1) / DAY_HOURS
    lately = fallen[:, -c.LOW_LATELY_HOURS :].sum(axis=1) / c.LOW_LATELY_HOURS
    left = sight.levels.now_mm - sight.place.empty_mm
    with np.errstate(invalid="ignore"):
        perhaps = left <= c.LOW_GUESS * np.maximum(by_day, lately) * low_hours
    return np.flatnonzero(perhaps & sight.level.known)


def _fit(sight: Sight, which: NDArray[np.int64]) -> NDArray[np.float64]:
    """Draw by day and by night over the last days, (N, 6): value, low and high of each."""
    place, coarse = sight.place, sight.frame.coarse
    steps = 24 * c.DRAW_DAYS
    level = cut(coarse, sight.level.row[which], place.level.since[which], steps).astype(np.float64)
    volume = place.tanks.litres(level + place.zero_mm[which, np.newaxis], which)
    rise = sight.draws.rise_l[which]
    refilled = rising(volume, c.RISE_HOURS, rise)
    room = place.reservoir_room[which]
    lit_h = place.lights_min[room] / 60.0
    middle = coarse.times[-steps:] + coarse.step / 2
    last_h = since_lights_on(sight.facility.zone, middle[-1:], place.lights_on_min[room]) / 60.0
    hours = last_h + (middle - middle[-1]) / np.timedelta64(1, "h")
    day, night = draw_between_refills(volume, hours, lit_h, refilled, c.INTERVAL)
    return np.stack([*day.ends, *night.ends], axis=1)


def _where(choose: NDArray[np.bool_], one: Interval, other: Interval) -> Interval:
    return Interval(*(np.where(choose, a, b) for a, b in zip(one.ends, other.ends, strict=True)))


def _shifted(rate: Interval, by: NDArray[np.float64]) -> Interval:
    return Interval(*(end + by for end in rate.ends))


def _usual(sight: Sight, which: NDArray[np.int64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean of the usual draw of lit and of dark hours; where there are none of a sort, of all hours."""
    place, usual = sight.place, sight.draws.usual_l_per_h[which]
    room = place.reservoir_room[which]
    middle = (np.arange(24) * 60 + 30 - place.lights_on_min[room, np.newaxis]) % DAY_MIN
    lit = middle < place.lights_min[room, np.newaxis]
    every = usual.mean(axis=1)
    by_day, by_night = (np.where(part, usual, 0.0).sum(axis=1) for part in (lit, ~lit))
    hours = lit.sum(axis=1)
    return (
        np.where(hours > 0, by_day / np.maximum(hours, 1), every),
        np.where(hours < 24, by_night / np.maximum(24 - hours, 1), every),
    )


def _finding(sight: Sight, seen: Outlook, n: int) -> Finding:
    place, number = sight.place, int(seen.which[n])
    reservoir, room = place.reservoirs[number], int(place.reservoir_room[number])
    lit_h = float(place.lights_min[room]) / 60.0
    hours = float(seen.hours.value[n])
    per_day = float(seen.day.value[n]) * lit_h + float(seen.night.value[n]) * (24.0 - lit_h)
    return Finding(
        kind="reservoir-low",
        subject=subject(reservoir),
        room_id=place.rooms[room].id,
        since=moment(sight.as_of - np.timedelta64(round(3600 * max(_low_hours(sight, number) - hours, 0.0)), "s")),
        evidence={
            "hours_left": rounded(hours),
            "hours_left_low": rounded(seen.hours.low[n]),
            "hours_left_high": rounded(seen.hours.high[n]),
            "usable_l": rounded(seen.usable_l[n]),
            "draw_l_per_day": rounded(per_day),
            "draw_l_per_h": rounded(per_day / 24.0, 2),
            "draw_by_day_l_per_h": rounded(seen.day.value[n], 2),
            "draw_by_night_l_per_h": rounded(seen.night.value[n], 2),
            "excess_l_per_h": rounded(seen.extra_l_per_h[n], 2) if seen.extra_l_per_h[n] > 0 else None,
            "level_mm": rounded(sight.levels.last_mm[number]),
            "empty_level_mm": rounded(place.empty_mm[number]),
        },
        harm_at=after(sight.as_of, hours),
        explained_by=(("reservoir-empty", reservoir.id), ("reservoir-leak", reservoir.id)),
    )


def _low_hours(sight: Sight, number: int) -> float:
    return float(sight.place.reservoir_rules.of("low_hours")[number])

"""When something will happen at the present rate, and how sure that is.

Here: crossing a limit at a slope, and emptying a reservoir through days and nights. Not here: the rates
themselves (`trend`, `draw`) and free outflow (`outflow`). An interval of a rate is carried over end by end:
the earliest moment goes with the fastest rate that is likely, the latest with the slowest, and where that one
never gets there the latest is infinite, which is an answer and not a failure. NaN in, NaN out.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wickwatch.agronomy.arrays import Floats, Interval, floats, not_negative, within
from wickwatch.agronomy.draw import HOURS_PER_DAY


def time_to_limit(value: ArrayLike, limit: ArrayLike, slope: Interval, *, rising: bool) -> Interval:
    """Return when a value reaches its limit: `value` expected, `low` earliest, `high` latest.

    `rising` says from which side it comes: True for a limit above, False for one below. In the unit of time
    of the slope; 0 where the limit is already reached, infinite where it never is.
    """
    sign = 1.0 if rising else -1.0
    gap = np.maximum(sign * (floats(limit) - floats(value)), 0.0)
    ends = (sign * slope.low, sign * slope.high)
    fast, slow = np.maximum(*ends), np.minimum(*ends)
    return Interval(_time(gap, sign * slope.value), _time(gap, fast), _time(gap, slow))


def hours_to_draw(
    volume_l: ArrayLike, day: Interval, night: Interval, hour: ArrayLike, photoperiod_h: ArrayLike
) -> Interval:
    """Return in how many hours a volume is drawn: `value` expected, `low` earliest, `high` latest.

    `volume_l` usable now; `day` and `night` draw [l/h] in the light and in the dark, below 0 taken as 0;
    `hour` since the lights last came on, 0 to 24; `photoperiod_h` hours of light a day, 0 to 24. All
    broadcast.
    """
    volume = not_negative("volume in l", volume_l)
    now = within("hour since lights on", hour, 0.0, HOURS_PER_DAY)
    lit = within("photoperiod in h", photoperiod_h, 0.0, HOURS_PER_DAY)
    return Interval(
        _hours(volume, day.value, night.value, now, lit),
        _hours(volume, day.high, night.high, now, lit),
        _hours(volume, day.low, night.low, now, lit),
    )


def drawn_l(hours: ArrayLike, day: ArrayLike, night: ArrayLike, hour: ArrayLike, photoperiod_h: ArrayLike) -> Floats:
    """Return the volume [l] drawn within so many hours from now; arguments as `hours_to_draw`."""
    span = not_negative("hours", hours)
    now = within("hour since lights on", hour, 0.0, HOURS_PER_DAY)
    lit = within("photoperiod in h", photoperiod_h, 0.0, HOURS_PER_DAY)
    days, rest = np.divmod(span, HOURS_PER_DAY)
    total = days * _daily(floats(day), floats(night), lit)
    for length, rate in _stages(floats(day), floats(night), now, lit):
        total = total + rate * np.clip(rest, 0.0, length)
        rest = rest - length
    return floats(total)


def _time(gap: Floats, speed: Floats) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        moving = np.where(speed > 0.0, gap / speed, np.inf)
    return np.where(np.isnan(gap + speed), np.nan, np.where(gap == 0.0, 0.0, moving))


def _daily(day: Floats, night: Floats, lit: Floats) -> Floats:
    return day * lit + night * (HOURS_PER_DAY - lit)


def _stages(day: Floats, night: Floats, now: Floats, lit: Floats) -> list[tuple[Floats, Floats]]:
    """Return the next 24 hours as three stages of (length [h], rate [l/h]): the rest of this light or dark, the next
    one, and the first part of this kind again.
    """
    light = now < lit
    dark = HOURS_PER_DAY - lit
    first = np.where(light, lit - now, HOURS_PER_DAY - now)
    between = np.where(light, dark, lit)
    here, there = np.where(light, day, night), np.where(light, night, day)
    return [(first, here), (between, there), (HOURS_PER_DAY - first - between, here)]


def _hours(volume: Floats, day: Floats, night: Floats, now: Floats, lit: Floats) -> Floats:
    day, night = np.maximum(day, 0.0), np.maximum(night, 0.0)
    daily = _daily(day, night, lit)
    moving = daily > 0.0
    with np.errstate(divide="ignore", invalid="ignore"):
        # Whole days before the last one: a last day drawn to its end may end before its 24 hours do.
        days = np.where(moving, np.maximum(np.ceil(volume / daily) - 1.0, 0.0), 0.0)
        rest = volume - days * daily
        hours = days * HOURS_PER_DAY
        for length, rate in _stages(day, night, now, lit):
            spent = np.where(rate > 0.0, np.minimum(rest / rate, length), length)
            hours = hours + np.where(rest > 0.0, spent, 0.0)
            rest = rest - rate * length
    hours = np.where(moving | (volume == 0.0), hours, np.inf)
    return np.where(np.isnan(volume + daily + now), np.nan, hours)

"""How much water a reservoir gives by day and by night, from its level history.

Here: hours of light, and the two rates fitted together over all stretches between refills. Not here: finding
the refills (`segments`), volumes from levels (`tank`) or what follows from the rates (`forecast`). Day and
night are told apart because plants drink little in the dark: a draw that goes on at night is a leak, and a
mean of both says so late.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wickwatch.agronomy.arrays import Bools, Floats, Interval, Ints, floats, within
from wickwatch.agronomy.regression import huber_fit
from wickwatch.agronomy.segments import NO_SEGMENT, segments_between_jumps

HOURS_PER_DAY = 24.0


@dataclass(frozen=True)
class Draw:
    """Water drawn [l/h] in the light and in the dark, and the noise of the volume [l] around the fit.

    A rate is NaN where the readings hold no hour of that kind.
    """

    day: Interval
    night: Interval
    sigma_l: Floats


def light_hours(hours: ArrayLike, photoperiod_h: ArrayLike) -> Floats:
    """Return the hours of light up to each moment, counted from a moment when the lights came on.

    `hours` since that moment, of either sign; `photoperiod_h` 0 to 24, broadcasting. Only differences of the
    result mean anything.
    """
    lit = within("photoperiod in h", photoperiod_h, 0.0, HOURS_PER_DAY)
    days, hour = np.divmod(floats(hours), HOURS_PER_DAY)
    return days * lit + np.minimum(hour, lit)


def day_and_night_draw(
    volume_l: ArrayLike,
    hours: ArrayLike,
    photoperiod_h: ArrayLike,
    segment: ArrayLike,
    confidence: float = 0.95,
) -> Draw:
    """Return the draw of each reservoir by day and by night.

    `volume_l` and `segment` have shape (..., n); `segment` numbers the stretches between refills (NO_SEGMENT:
    left out). `hours` (n) or (..., n) since a moment when the lights came on; `photoperiod_h` (...) hours of
    light a day. Each stretch has its own starting volume and all share the two rates.
    """
    stretch: Ints = np.asarray(segment, dtype=np.int64)
    used = stretch != NO_SEGMENT
    moment = np.broadcast_to(floats(hours), stretch.shape)
    light = light_hours(moment, floats(photoperiod_h)[..., None])
    starts = stretch[..., None] == np.arange(max(int(stretch.max(initial=0)) + 1, 1))
    rates = [_since_start(part, starts) for part in (light, moment - light)]
    design = np.concatenate([-np.stack(rates, axis=-1), starts], axis=-1)
    fit = huber_fit(np.where(used, floats(volume_l), np.nan), design, confidence)
    every = fit.coefficients
    day, night = (Interval(every.value[..., i], every.low[..., i], every.high[..., i]) for i in (0, 1))
    return Draw(day, night, fit.sigma)


def draw_between_refills(
    volume_l: ArrayLike, hours: ArrayLike, photoperiod_h: ArrayLike, refilled: ArrayLike, confidence: float = 0.95
) -> tuple[Interval, Interval]:
    """Return the draw [l/h] by day and by night; a rate of which no hour tells is taken as the other.

    `refilled` (..., n) marks the readings within refills, as from `segments.rising`; the rest is as in
    `day_and_night_draw`. Where lights never go off, both are the rate in the light.
    """
    drawn = day_and_night_draw(volume_l, hours, photoperiod_h, segments_between_jumps(refilled, volume_l), confidence)
    always = floats(photoperiod_h) >= HOURS_PER_DAY
    day, night = _chosen(np.isnan(drawn.day.value), drawn.night, drawn.day), drawn.night
    return day, _chosen(np.isnan(night.value) | always, day, night)


def _chosen(which: Bools, one: Interval, other: Interval) -> Interval:
    return Interval(*(np.where(which, a, b) for a, b in zip(one.ends, other.ends, strict=True)))


def _since_start(counter: Floats, starts: Floats) -> Floats:
    """Return a running counter (..., n) as what was added within each stretch, 0 outside any.

    A stretch that lies wholly in the dark then has no hours of light, instead of a constant that could pass
    for part of its starting volume.
    """
    first = np.min(np.where(starts, counter[..., None], np.inf), axis=-2)
    inside = starts @ np.where(np.isfinite(first), first, 0.0)[..., None]
    return np.where(starts.any(axis=-1), counter - inside[..., 0], 0.0)

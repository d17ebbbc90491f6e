"""Can a tension be water? What no drying or watering does is the instrument: outside its range, or risen by a leap.

Asked for the few containers that look abnormal, before anybody is called for their water. Not here: naming the fault
(`probe_fault`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.frame import FINE_PER_H
from wickwatch.detect.window import back_from, last_where


def out_of_range(fine: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Where the last quarter hour of fine tension (N, F) lies outside what a tensiometer in a container can show."""
    now = nanmedian(fine[:, -c.NOW_STEPS :])
    with np.errstate(invalid="ignore"):
        return np.asarray((now < c.TENSION_LOW_MBAR) | (now > c.TENSION_HIGH_MBAR))


def leapt(fine: NDArray[np.float32], hourly: NDArray[np.float32], young: int = 0) -> NDArray[np.bool_]:
    """Where fine tension (N, F) has risen faster than its container can dry, and has not come back since.

    Also where it may have come back, but leapt within the last `young` buckets: a cup that was in the air needs hours
    to show its medium again, and a day to show how that dries.

    A container's own steepest usual hour, from hourly tension (N, T), is the measure. It is let grow with tension as
    drying media do (the same water moves tension more the drier they are), and with room to spare.
    """
    rise = (fine[:, c.LEAP_STEPS :] - fine[:, : -c.LEAP_STEPS]) * np.float32(12.0 / c.LEAP_STEPS)
    least = max(c.LEAP_ROOM * c.LEAST_STEEP_MBAR_PER_H, c.LEAP_MBAR * 12.0 / c.LEAP_STEPS)
    found = np.asarray(np.fmax.reduce(rise, axis=1, initial=0.0) > least)
    # Few rise that fast at all; only they are compared with themselves.
    steep = np.flatnonzero(found)
    if len(steep):
        found[steep] = _beyond_own(fine[steep], hourly[steep], rise[steep], young)
    return found


def _beyond_own(
    fine: NDArray[np.float32], hourly: NDArray[np.float32], rise: NDArray[np.float32], young: int
) -> NDArray[np.bool_]:
    before = fine[:, : -c.LEAP_STEPS]
    own = steepest_usual(hourly)[:, np.newaxis]
    level = nanmedian(hourly)[:, np.newaxis]
    now = nanmedian(fine[:, -c.NOW_STEPS :])[:, np.newaxis]
    with np.errstate(invalid="ignore"):
        drier = np.maximum(before / np.maximum(level, 1.0), 1.0) ** c.STEEPENS
        limit = c.LEAP_ROOM * np.maximum(own, c.LEAST_STEEP_MBAR_PER_H) * drier
        stays = now > before + c.LEAP_STAYS * (fine[:, c.LEAP_STEPS :] - before)
        stays[:, stays.shape[1] - young :] = True
        limit = np.maximum(limit, c.LEAP_MBAR * 12.0 / c.LEAP_STEPS)
        # From nothing an instrument comes back that was filled or put right: what it shows since is true.
        back = (before < c.ZERO_MBAR) | np.pad(before[:, :-1] < c.ZERO_MBAR, ((0, 0), (1, 0)))
        return np.asarray(((rise > limit) & stays & ~back).any(axis=1))


def leapt_before(fine: NDArray[np.float32], onset: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Where fine tension (N, F) leapt up just before it fell after column `onset` (N,): the cup was in the air.

    Put into the medium again, there or in another pot, it comes down from what the air made of it within the hour.
    """
    around = back_from(fine, np.maximum(onset, 0), c.LEAP_STEPS + 1)
    with np.errstate(invalid="ignore"):
        return np.asarray(around[:, 0] - np.fmin.reduce(around, axis=1) >= c.LEAP_MBAR)


def steepest_usual(hourly: NDArray[np.float32]) -> NDArray[np.float64]:
    """What nine of ten rising hours before the last two days stay under [mbar/h]; NaN, so no measure, where none is."""
    steps = np.diff(hourly[:, : -c.LEAP_IGNORES_HOURS], axis=1)
    rising = np.sort(np.where(steps > 0.0, steps, np.nan), axis=1)  # NaN last
    count = np.isfinite(rising).sum(axis=1)
    place = np.maximum(np.ceil(0.9 * count).astype(np.int64) - 1, 0)
    return np.asarray(np.take_along_axis(rising, place[:, np.newaxis], axis=1)[:, 0], dtype=np.float64)


def emptied(fine: NDArray[np.float32], hourly: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Where a tensiometer has lost its water: it came down to nearly nothing, from where no container would be.

    Either from near its own limit (it climbed, air came in, it fell), or by a leap to zero between neighbouring
    buckets, faster than water spreads. What it showed before it was filled again tells nothing of that.
    """
    with np.errstate(invalid="ignore"):
        wet_again = np.fmin(c.WET_AGAIN_MBAR, c.WET_AGAIN_SHARE * nanmedian(hourly))
        low = nanmedian(fine[:, -c.NOW_STEPS :]) < wet_again
    return lost_its_water(low, fine, hourly)


def lost_its_water(low: NDArray[np.bool_], fine: NDArray[np.float32], hourly: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Which of the `low` tensiometers (N,) came there from their own limit, or by a leap, by tension (N, F) and (N, T).

    What came before one was last filled again is left out: what it shows since is true.
    """
    found, which = np.zeros(len(low), dtype=np.bool_), np.flatnonzero(low)
    if len(which):
        found[which] = _at_limit_or_leapt(fine[which], hourly[which])
    return found


def _at_limit_or_leapt(fine: NDArray[np.float32], hourly: NDArray[np.float32]) -> NDArray[np.bool_]:
    filled = _filled_at(fine)
    some = np.flatnonzero(filled >= 0)
    if len(some):
        fine, hourly = fine.copy(), hourly.copy()
        before = (fine.shape[1] - filled[some])[:, np.newaxis]
        fine[some] = np.where(np.arange(fine.shape[1], 0, -1) >= before, np.nan, fine[some])
        hourly[some] = np.where(np.arange(hourly.shape[1], 0, -1) >= before // FINE_PER_H, np.nan, hourly[some])
    return was_at_limit(fine, hourly) | leapt_to_zero(fine)


def _filled_at(fine: NDArray[np.float32]) -> NDArray[np.int64]:
    """Column after which fine tension (N, F) last came back from nothing at once, -1 where it did not (N,).

    No container dries so fast: somebody filled the cup.
    """
    steps = c.FILLED_STEPS
    after = np.pad(fine, ((0, 0), (0, steps)), constant_values=np.nan)
    highest = np.fmax.reduce(np.lib.stride_tricks.sliding_window_view(after, steps + 1, axis=1), axis=2)
    with np.errstate(invalid="ignore"):
        return last_where((fine < c.ZERO_MBAR) & (highest > c.LEAP_FROM_MBAR))


def leapt_to_zero(fine: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Where fine tension (N, F) fell to nothing between neighbouring buckets, faster than water spreads."""
    before, after = fine[:, :-1], fine[:, 1:]
    with np.errstate(invalid="ignore"):
        leap = before - after >= c.LEAP_TO_ZERO_SHARE * before
        leap &= (before >= c.LEAP_FROM_MBAR) & (after < c.ZERO_MBAR)
    return np.asarray(leap.any(axis=1))


def was_at_limit(fine: NDArray[np.float32], hourly: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Where a tensiometer was lately near the tension at which air enters it."""
    highest = np.fmax(np.fmax.reduce(fine, axis=1), np.fmax.reduce(hourly[:, -c.AIR_HOURS :], axis=1))
    with np.errstate(invalid="ignore"):
        return np.asarray(highest >= c.AIR_ENTRY_MBAR)

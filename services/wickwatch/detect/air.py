"""Tensiometers that air gets into: they climb faster than any medium dries, break down, and show nothing.

Drought takes a tensiometer to its limit, too, but as a drying medium does. Both come back once the cup holds water
again. Not here: naming the fault (`probe_fault`), nor what keeps such readings from being taken for water
(`believable`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.believable import lost_its_water, steepest_usual
from wickwatch.detect.window import back_from, bridged, last_where, runs


def climbed(fine: NDArray[np.float32], hourly: NDArray[np.float32], dry_mbar: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Where fine tension (N, F) climbs, or climbed and has not come back, as air lets it and no drying medium does.

    From under the dry limit (N,). A container's own steepest usual hour, from hourly tension (N, T), is a measure
    beside the share by which it rises.
    """
    with np.errstate(invalid="ignore"):
        found = np.fmax.reduce(fine, axis=1) - np.fmin.reduce(fine, axis=1) >= c.CLIMB_MBAR
    some = np.flatnonzero(found)
    if len(some):
        found[some] = _climbed(fine[some], hourly[some], dry_mbar[some])
    return np.asarray(found)


def _climbed(
    fine: NDArray[np.float32], hourly: NDArray[np.float32], dry_mbar: NDArray[np.float64]
) -> NDArray[np.bool_]:
    whole = bridged(fine, np.full(len(fine), c.CLIMB_GAP_STEPS))
    part = c.CLIMB_STEPS // 3
    before, now = whole[:, : -c.CLIMB_STEPS], whole[:, c.CLIMB_STEPS :]
    between = whole[:, c.CLIMB_STEPS - part : -part]
    rise = now - before
    own = np.nan_to_num(steepest_usual(hourly))[:, np.newaxis]
    with np.errstate(invalid="ignore"):
        climbs = (before >= c.CLIMB_FROM_MBAR) & (before <= dry_mbar[:, np.newaxis])
        climbs &= (rise >= c.CLIMB_MBAR) & (now >= c.CLIMB_FACTOR * before)
        climbs &= rise >= c.LEAP_ROOM * own * (c.CLIMB_STEPS / 12.0)
        # It goes on: a probe put into another pot leaps, and settles within minutes.
        climbs &= (between - before >= c.CLIMB_SHARE * rise) & (now - between >= c.CLIMB_GOES_ON * rise)
    # What it climbed from must be told, too: not by what a jittering probe showed a moment before.
    climbs[:, : c.CLIMB_BEFORE_STEPS] = False
    last = last_where(climbs)
    before_it = back_from(whole, last, c.CLIMB_BEFORE_STEPS)
    level = nanmedian(before_it)
    # One that jitters climbs and falls all the time, and is told by that.
    jitters = nanmedian(np.abs(np.diff(before_it, axis=1))) >= c.ROUGH_MBAR
    shown = nanmedian(fine[:, -c.NOW_STEPS :])
    away = np.isfinite(shown) & ~_near(shown, level)
    # From nothing a probe comes back at once, when somebody has filled it again, and from its way there, too.
    with np.errstate(invalid="ignore"):
        falls = np.fmax.reduce(before_it, axis=1) >= c.CLIMB_FALLS * before_it[:, 0]
    found = (last >= 0) & (level >= c.CLIMB_FROM_MBAR) & away & ~falls
    return np.asarray(found & ~jitters & ~_was_back(whole, last, level))


def _was_back(whole: NDArray[np.float32], last: NDArray[np.int64], level: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Where tension (N, F) has stood near its `level` (N,) again since column `last` (N,): later water moved it."""
    since = np.arange(whole.shape[1]) > last[:, np.newaxis]
    near = runs(since & _near(whole, level[:, np.newaxis]))
    return np.asarray(near.max(axis=1, initial=0) >= c.CLIMB_BACK_STEPS)


def _near(tension: NDArray[np.floating], level: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Where a tension is what a container shows that stood at a level (broadcasting) before air came in."""
    with np.errstate(invalid="ignore"):
        return np.asarray((tension <= c.CLIMB_BACK * level) & (tension >= level / c.CLIMB_BACK**2))


def lost_water(fine: NDArray[np.float32], hourly: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Where a tensiometer shows nothing (N,): since it was at its limit, or by a leap from a usual tension."""
    with np.errstate(invalid="ignore"):
        low = nanmedian(fine[:, -c.NOW_STEPS :]) < c.ZERO_MBAR
    return lost_its_water(low, fine, hourly)

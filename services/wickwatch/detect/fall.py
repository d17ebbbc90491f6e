"""The last great fall of tension in containers: since when and how deep.

A cumulative sum of the fall per bucket, less a slack, is the depth of a fall; it counts when it goes beyond the
container's own usual watering. Not here: how the water came (`arrival`), nor what a fall means (`sudden_wetting`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.change import cusum_rise, last_zero_before
from wickwatch.detect import constants as c
from wickwatch.detect.window import last_where


@dataclass(frozen=True)
class Falls:
    """N containers on the fine grid of T columns; all (N,).

    `depth_mbar` of the deepest fall of the last two days and `usual_mbar` of the container's waterings; `unusual`
    where it goes beyond those. `onset` is the column before the water came (-1: before the grid), `steepest` and
    `bottom` those at which tension fell fastest and was lowest.
    """

    depth_mbar: NDArray[np.float64]
    usual_mbar: NDArray[np.float64]
    unusual: NDArray[np.bool_]
    onset: NDArray[np.int64]
    steepest: NDArray[np.int64]
    bottom: NDArray[np.int64]


def falls(
    fine: NDArray[np.float32],
    usual: NDArray[np.float64],
    wet_mbar: NDArray[np.float64],
    later: NDArray[np.int64] | None = None,
) -> Falls:
    """Judge fine tension (N, T), gaps filled, against the usual fall (N,) of the same containers.

    The fall looked at is the one that the present stay near or below the wet limit began with, or the deepest in it,
    or the last unusual one where tension was up or at rest for hours before it: water came again. It is not one that
    began before the column `later` (N,); -1 for none.
    """
    width = fine.shape[1]
    column = np.arange(width)
    limit = wet_mbar[:, np.newaxis]
    with np.errstate(invalid="ignore"):
        last_over = last_where(fine >= limit)
        # A stay in the wet before that one is over: its fall, out of a drought perhaps, is another.
        before = last_where((fine < limit - c.RECOVERS_MBAR) & (column < last_over[:, np.newaxis]))
    after = before if later is None else np.maximum(before, later)
    fallen = -np.diff(fine.astype(np.float64), axis=1, prepend=np.nan)
    fallen = np.where(column > after[:, np.newaxis], fallen, np.nan)
    depth = cusum_rise(fallen, 0.0, _slack(fine, limit))
    deepest = np.where(column >= np.maximum(last_over, after)[:, np.newaxis], depth, 0.0)
    again = last_zero_before(depth, last_where(deepest > c.FALL_BEYOND * usual[:, np.newaxis]))
    deepest = np.where(column > again[:, np.newaxis], deepest, 0.0)
    bottom = np.argmax(deepest, axis=1)
    most = np.take_along_axis(deepest, bottom[:, np.newaxis], axis=1)[:, 0]
    began = last_zero_before(depth, bottom)
    within = (column > began[:, np.newaxis]) & (column <= bottom[:, np.newaxis])
    during = np.where(within & np.isfinite(fallen), fallen, 0.0)
    steepest = np.argmax(during, axis=1)
    # The sum may have been rising since an ordinary watering before: the water came where the steep part begins.
    steep = during > c.ONSET_STEEPNESS * during.max(axis=1, initial=0.0)[:, np.newaxis]
    onset = last_zero_before(np.where(steep, 1.0, 0.0), steepest)
    return Falls(
        depth_mbar=most,
        usual_mbar=usual,
        unusual=most > c.FALL_BEYOND * usual,
        onset=onset,
        steepest=steepest,
        bottom=bottom,
    )


def _slack(fine: NDArray[np.float32], limit: NDArray[np.float64]) -> NDArray[np.float64]:
    """What tension (N, T) may fall by in a bucket without counting [mbar].

    Less below the wet limit (N, 1): a millibar is the more water the wetter a medium is.
    """
    with np.errstate(invalid="ignore"):
        wet = np.clip(np.nan_to_num(fine / limit, nan=1.0), 0.0, 1.0)
    return np.asarray(c.FALL_SLACK_MBAR * wet ** (1.0 - c.WATER_POWER))


def deepest_fall(tension_mbar: NDArray[np.floating], within: int | None = None) -> NDArray[np.float64]:
    """How far tension (N, T) fell at most below its highest so far [mbar] (N,); NaN where nothing is known.

    Or below its highest `within` so many columns before, where slow slides do not count.
    """
    if within is None:
        highest = np.fmax.accumulate(tension_mbar, axis=1)
    else:
        before = np.pad(tension_mbar, ((0, 0), (within, 0)), constant_values=np.nan)
        highest = np.fmax.reduce(np.lib.stride_tricks.sliding_window_view(before, within + 1, axis=1), axis=2)
    return np.asarray(np.fmax.reduce(highest - tension_mbar, axis=1))


def at_the_same_time(
    room: NDArray[np.int64], steepest: NDArray[np.int64], fell: NDArray[np.bool_]
) -> NDArray[np.int64]:
    """How many of the same room (N,) fell when each did, give or take `FELL_TOGETHER_STEPS`; itself counts if it fell.

    By search in sorted order: after a power cut all containers of a facility may fall, and pairs of them are too many.
    """
    apart = c.FELL_TOGETHER_STEPS
    moment = room * (int(steepest.max(initial=0)) + apart + 1) + steepest  # of another room always farther than `apart`
    those = np.sort(moment[fell])
    until, before = np.searchsorted(those, moment + apart, side="right"), np.searchsorted(those, moment - apart)
    return np.asarray(until - before)

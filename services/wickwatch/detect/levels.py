"""The level in every reservoir now, from noisy readings that come seldom.

A line is laid through the last two hours by thirds (Tukey's resistant line: slope between the medians of the outer
thirds, then the median of what is left), so that a wave or a lost echo moves it little, and is carried on to the
moment of the sweep. Levels are mm above the bottom. Not here: volume, draw, or what is too low.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.robust import mad_sigma
from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect.clock import hours_since
from wickwatch.detect.constants import LEVEL_JUMP_MM, LEVEL_RISE_MM, LEVEL_STEPS
from wickwatch.detect.frame import Frame
from wickwatch.detect.layout import Layout
from wickwatch.detect.signals import Signals
from wickwatch.detect.window import cut, last_valid

#: Fewest buckets that a line is laid through.
_FEWEST = 6


@dataclass(frozen=True)
class Levels:
    """R reservoirs; `series_mm` is (R, T) on the fine grid, the rest (R,), NaN where unknown.

    `last_mm` is the newest reading as it came. `now_mm` is the line's level as of the sweep with its standard error
    `se_mm`; without enough readings it is the newest reading, and the error is 0.
    """

    series_mm: NDArray[np.float64]
    last_mm: NDArray[np.float64]
    now_mm: NDArray[np.float64]
    at_last_mm: NDArray[np.float64]
    se_mm: NDArray[np.float64]
    slope_mm_per_h: NDArray[np.float64]


def levels(frame: Frame, place: Layout, signal: Signals) -> Levels:
    """Levels of all reservoirs as of the frame."""
    series = cut(frame.fine, signal.row, place.level.since).astype(np.float64) + place.zero_mm[:, np.newaxis]
    last = signal.value + place.zero_mm
    recent = _after_leap(series[:, -LEVEL_STEPS:])
    # Hours of each bucket's middle before the sweep.
    middle = frame.fine.start + (np.arange(series.shape[1] - recent.shape[1], series.shape[1]) + 0.5) * frame.fine.step
    hours = (middle - frame.as_of) / np.timedelta64(1, "h")
    slope = np.minimum(_slope(recent, hours), 0.0)
    enough = np.isfinite(slope)
    slope = np.where(enough, slope, 0.0)
    rest = recent - slope[:, np.newaxis] * hours
    now = nanmedian(rest)
    sigma = mad_sigma(rest)
    # The end of a fitted line has twice the error of its middle; a median 1.25 times that of a mean.
    se = 2.0 * 1.2533 * sigma / np.sqrt(np.maximum(np.isfinite(recent).sum(axis=1), 1))
    age_h = hours_since(signal.at, frame.as_of)
    return Levels(
        series_mm=series,
        last_mm=last,
        now_mm=np.where(enough, now, last),
        at_last_mm=np.where(enough, now - slope * age_h, last),
        se_mm=np.where(enough, se, 0.0),
        slope_mm_per_h=slope,
    )


def _after_leap(recent: NDArray[np.float64]) -> NDArray[np.float64]:
    """The same buckets with those up to the last refill blanked, or up to where a sensor that had stuck came loose."""
    filled = np.isfinite(recent)
    column = np.arange(recent.shape[1])
    before = np.maximum.accumulate(np.where(filled, column, -1), axis=1)
    earlier = np.concatenate([np.full((len(recent), 1), -1), before[:, :-1]], axis=1)
    value_before = np.take_along_axis(recent, np.maximum(earlier, 0), axis=1)
    with np.errstate(invalid="ignore"):
        leaps = (recent - value_before > LEVEL_RISE_MM) | (recent - value_before < -LEVEL_JUMP_MM)
    last_leap = last_valid(np.where(filled & (earlier >= 0) & leaps, 1.0, np.nan))
    return np.where(column < last_leap[:, np.newaxis], np.nan, recent)


def _slope(recent: NDArray[np.float64], hours: NDArray[np.float64]) -> NDArray[np.float64]:
    """Slope [mm/h] between the outer thirds, NaN where they hold too little."""
    third = recent.shape[1] // 3
    left, right = recent[:, :third], recent[:, -third:]
    place = np.broadcast_to(hours, recent.shape)
    run = _mean_of(place[:, -third:], right) - _mean_of(place[:, :third], left)
    rise = nanmedian(right) - nanmedian(left)
    enough = np.isfinite(recent).sum(axis=1) >= _FEWEST
    return np.where(enough & (run > 0), rise / np.where(run > 0, run, 1.0), np.nan)


def _mean_of(place: NDArray[np.float64], values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean place of the values there are, NaN for none."""
    there = np.isfinite(values)
    count = there.sum(axis=1)
    return np.where(count > 0, (place * there).sum(axis=1) / np.maximum(count, 1), np.nan)

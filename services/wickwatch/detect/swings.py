"""The rises and falls of tension between turning points: drying between two waterings, and the waterings themselves.

A container on a working emitter draws a sawtooth: it dries, is watered, dries. How far it usually rises before it is
watered, and falls when it is, is its own measure of what is unusual. Not here: what follows from an unusual one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c


@dataclass(frozen=True)
class Swings:
    """N series of T values.

    `rise` (N, T): how far each value stands above the last low, 0 while falling; NaN values keep the one before.
    `peaks` (N, T): the height from which a watering fell, in the column that showed it, else NaN. `usual_rise` and
    `usual_fall` (N,): what a large share of the finished ones stay under; NaN where too few are seen.
    """

    rise: NDArray[np.float32]
    peaks: NDArray[np.float32]
    usual_rise: NDArray[np.float64]
    usual_fall: NDArray[np.float64]


def swings(values: NDArray[np.float32], turn_mbar: float, judged: int) -> Swings:
    """Follow N series (N, T); a turn is a reversal of at least `turn_mbar`.

    The last `judged` columns are followed, but do not count as usual.
    """
    count, length = values.shape
    rise = np.zeros((count, length), dtype=np.float32)
    rises = np.full((count, length), np.nan, dtype=np.float32)
    falls = np.full((count, length), np.nan, dtype=np.float32)
    peaks = np.full((count, length), np.nan, dtype=np.float32)
    first = nanmedian(values[:, : max(length // 20, 1)]).astype(np.float32)
    low, high = first.copy(), first.copy()
    drying = np.ones(count, dtype=np.bool_)
    for step in range(length):
        value = values[:, step]
        known = np.isfinite(value)
        value = np.where(known, value, np.where(drying, high, low))
        low = np.where(np.isfinite(low), low, value)
        high = np.where(np.isfinite(high), high, value)
        high = np.where(drying, np.maximum(high, value), high)
        low = np.where(drying, low, np.minimum(low, value))
        watered = drying & (value < high - turn_mbar)
        dries = ~drying & (value > low + turn_mbar)
        rises[watered, step] = (high - low)[watered]
        peaks[watered, step] = high[watered]
        falls[dries, step] = (high - low)[dries]
        low = np.where(watered, value, low)
        high = np.where(dries, value, high)
        drying = (drying | dries) & ~watered
        rise[:, step] = np.where(drying, value - low, 0.0)
    past = max(length - judged, 0)
    return Swings(rise, peaks, _usual(rises[:, :past]), _usual(falls[:, :past]))


def _usual(found: NDArray[np.float32]) -> NDArray[np.float64]:
    """The share of finished swings named in the table, NaN where fewer than the least number were seen."""
    ordered = np.sort(found, axis=1)  # NaN last
    number = np.isfinite(ordered).sum(axis=1)
    place = np.clip(np.ceil(c.SWING_SHARE * number).astype(np.int64) - 1, 0, max(found.shape[1] - 1, 0))
    if not found.shape[1]:
        return np.full(len(found), np.nan)
    usual = np.take_along_axis(ordered, place[:, np.newaxis], axis=1)[:, 0].astype(np.float64)
    return np.where(number >= c.SWINGS_NEEDED, usual, np.nan)

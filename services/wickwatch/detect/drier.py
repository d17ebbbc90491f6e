"""Does a tension that creeps up mean a drier medium, or a probe that creeps by itself? By the size of the waterings.

The drier a medium, the further the same water moves its tension (dh/dtheta of van Genuchten curves grows with tension).
So where an emitter's set point creeps up, its waterings and the rises between them grow with it; where only the probe
does, they stay as they were, only higher. Judged for one container at a time, of the few that drift. Not here: whether
there is a drift (`drift_slow`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import constants as c


@dataclass(frozen=True)
class Waterings:
    """Waterings of one container: the columns in which they ended, the tension they began from, how far they went."""

    column: NDArray[np.int64]
    peak_mbar: NDArray[np.float64]
    depth_mbar: NDArray[np.float64]


def waterings(mean: NDArray[np.float32], low: NDArray[np.float32], high: NDArray[np.float32]) -> Waterings:
    """Waterings in one container's hourly tension (T,): turns by the mean, sizes by the extremes of the hours."""
    found: list[tuple[int, float, float]] = []
    drying, top, bottom = True, -np.inf, np.inf
    for column in np.flatnonzero(np.isfinite(mean)):
        value = float(mean[column])
        if drying:
            top = max(top, float(high[column]))
            if value < top - c.TURN_MBAR:
                drying, bottom = False, float(low[column])
        else:
            bottom = min(bottom, float(low[column]))
            if value > bottom + c.TURN_MBAR:
                found.append((int(column), top, top - bottom))
                drying, top = True, float(high[column])
    columns, peaks, depths = zip(*found, strict=True) if found else ((), (), ())
    return Waterings(np.array(columns, dtype=np.int64), np.array(peaks, dtype=float), np.array(depths, dtype=float))


def drier(seen: Waterings, until: int) -> tuple[float, float]:
    """How the size of waterings grew with the tension they begin from: (power of it, log of how much that grew).

    As of column `until`. About a half where the medium got drier, nil where the probe crept. NaN where too few
    waterings tell: then the emitter hardly opens, which no creeping probe does.
    """
    late = (seen.column >= until - c.DRIER_LATE_HOURS) & (seen.column < until)
    early = seen.column < until - c.DRIER_EARLY_HOURS
    if early.sum() < c.SWINGS_NEEDED:
        return float("nan"), float("nan")
    usual = float(np.median(seen.depth_mbar[early]))
    late &= seen.depth_mbar < c.DRIER_NO_CAN * usual
    if late.sum() < c.DRIER_NEEDS:
        return float("nan"), float("nan")
    level = float(np.log(np.median(seen.peak_mbar[late]) / np.median(seen.peak_mbar[early])))
    grown = float(np.log(np.median(seen.depth_mbar[late]) / usual))
    return (grown / level if level > 0 else float("nan")), level

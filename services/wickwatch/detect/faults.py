"""Ways in which an instrument lies that its own readings show, each for N channels at once.

Arrays in, masks out. Not here: which of them is named to people (`probe_fault`), nor drifts (`drier`, twins).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c


def flat_hours(
    mean: NDArray[np.float32], low: NDArray[np.float32], high: NDArray[np.float32], step_h: float
) -> NDArray[np.float64]:
    """Hours for which a channel has shown exactly the same value up to now, (N,); arrays (N, T) of one grid."""
    last = np.where(np.isfinite(mean), mean, np.nan)
    column = np.arange(mean.shape[1])
    known = np.isfinite(last)
    newest = np.max(np.where(known, column, -1), axis=1)
    value = np.take_along_axis(mean, np.maximum(newest, 0)[:, np.newaxis], axis=1)
    with np.errstate(invalid="ignore"):
        other = known & ((high - low > c.SAME_MBAR) | (np.abs(mean - value) > c.SAME_MBAR))
    last_other = np.max(np.where(other, column, -1), axis=1)
    first = np.argmax(known & (column > last_other[:, np.newaxis]), axis=1)
    return np.where(newest > last_other, (newest - first + 1) * step_h, 0.0)


def longest_flat_hours(low: NDArray[np.float32], high: NDArray[np.float32]) -> NDArray[np.float64]:
    """The longest run of hours without any change that a channel has usually had, (N,), from the coarse grid (N, T)."""
    with np.errstate(invalid="ignore"):
        still = high - low <= c.SAME_MBAR  # False where there is no reading
    column = np.arange(low.shape[1])
    moved = np.maximum.accumulate(np.where(still, -1, column), axis=1)
    return np.asarray((column - moved).max(axis=1, initial=0), dtype=np.float64)


def roughness(mean: NDArray[np.float32], low: NDArray[np.float32], high: NDArray[np.float32]) -> NDArray[np.float64]:
    """How much a channel jitters within a bucket or between neighbours, (N,) [mbar]: median over the buckets (N, T).

    Where a bucket holds several readings their range tells; where it holds one, its distance from the line through its
    neighbours.
    """
    inside = high - low
    inside = np.where(inside > 0.0, inside, np.nan)
    several = np.isfinite(inside).sum(axis=1) >= mean.shape[1] // 2
    rough = nanmedian(inside)
    alone = np.flatnonzero(~several)
    if len(alone):
        packed = _packed(mean[alone])
        rough[alone] = nanmedian(np.abs(packed[:, 2:] - 2.0 * packed[:, 1:-1] + packed[:, :-2]) / 2.0)
    return rough


def _packed(values: NDArray[np.float32]) -> NDArray[np.float64]:
    """Values moved left over gaps, so that neighbours are neighbouring readings; NaN fills the end."""
    order = np.argsort(~np.isfinite(values), axis=1, kind="stable")
    return np.take_along_axis(values, order, axis=1).astype(np.float64)

"""How much an instrument jitters, for N channels at once.

Arrays in, arrays out. Not here: whether that is too much (`probe_fault`), nor standing still (`stillness`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c


def roughness(mean: NDArray[np.float32], low: NDArray[np.float32], high: NDArray[np.float32]) -> NDArray[np.float64]:
    """How much a channel jitters within a bucket or between neighbours, (N,) [mbar]: median over the buckets (N, T).

    Where a bucket holds several readings their range tells, less what tension moves through it; where it holds one, its
    distance from the line through its neighbours, if readings go up and down by turns, and as far where they turn: what
    falls steeply by water bends, but does not turn.
    """
    inside = high - low
    inside = np.where(inside > 0.0, inside, np.nan)
    several = np.isfinite(inside).sum(axis=1) >= mean.shape[1] // 2
    through = np.full(mean.shape, np.nan, dtype=np.float32)
    through[:, 1:-1] = np.abs(mean[:, 2:] - mean[:, :-2]) / 2.0
    rough = nanmedian(np.maximum(inside - np.nan_to_num(through), 0.0))
    alone = np.flatnonzero(~several)
    if len(alone):
        packed = _packed(mean[alone])
        moves = np.diff(packed, axis=1)
        turns = moves[:, 1:] * moves[:, :-1] < 0.0  # False where a move is not known
        shares = turns.sum(axis=1) / np.maximum(np.isfinite(moves[:, 1:]).sum(axis=1), 1)
        bends = np.abs(np.diff(moves, axis=1)) / 2.0
        bent = np.fmin(nanmedian(bends), nanmedian(np.where(turns, bends, np.nan)))
        rough[alone] = np.where(shares >= c.ROUGH_TURNS, bent, 0.0)
    return rough


def _packed(values: NDArray[np.float32]) -> NDArray[np.float64]:
    """Values moved left over gaps, so that neighbours are neighbouring readings; NaN fills the end."""
    order = np.argsort(~np.isfinite(values), axis=1, kind="stable")
    return np.take_along_axis(values, order, axis=1).astype(np.float64)

"""A rise that is one step and level after it: the probe stands elsewhere, and no medium dries like that.

A drift goes on. A probe put into another pot, or a new set point, moves tension at once; day by day that is a rise
too, for as long as the days before it are among those looked at. A dry spell or a can within the week bends some
quarters of days far off, so that both shapes are judged by those that they fit best. Not here: whether there is a rise
at all (`drift_slow`), and two probes that part (`twins`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian, theil_sen
from wickwatch.detect import constants as c
from wickwatch.detect.peaks import DAY_HOURS

_QUARTER_H = DAY_HOURS // 4
#: Rounds of fitting to the quarters that fit best; more change nothing.
_ROUNDS = 4


def stepped(hourly: NDArray[np.float32], days: int, slope: float) -> bool:
    """Whether one container's hourly tension (T,) rose in its last days by one step, a while ago, and no more since.

    No more: slower than the `slope` [mbar/day] that the whole of these days shows. False where too little is known.
    """
    blocks = hourly[-days * DAY_HOURS :].reshape(-1, DAY_HOURS).astype(np.float64)
    departures = (blocks - nanmedian(blocks.T)).reshape(-1, _QUARTER_H)
    told = np.isfinite(departures).sum(axis=1) >= c.STEP_NEEDS_HOURS
    known = np.flatnonzero(told)
    if len(known) < c.TWIN_NEEDS_QUARTERS:
        return False
    x, y = known.astype(np.float64), nanmedian(departures[known])
    at, begins = x[2:-1], x[2:-2]
    steps = _left((x >= at[:, np.newaxis]).astype(np.float64), y)
    ramps = _left(np.maximum(x - begins[:, np.newaxis], 0.0), y)
    best = int(np.argmin(steps))
    since = x >= at[best]
    if steps[best] > c.STEP_AS_GOOD * ramps.min() or x[-1] + 1.0 - at[best] < c.STEP_QUARTERS or since.sum() < 2:
        return False
    rise = theil_sen(y[since], x[since] * _QUARTER_H / DAY_HOURS).slope
    higher = float(np.median(y[since]) - np.median(y[~since]))
    return bool(higher > 0.0 and rise < slope)


def _left(shapes: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Root mean square (S,) that a level and so much of each shape (S, n) leave of the best fitted part of `y` (n,)."""
    base = nanmedian(np.where(shapes == 0.0, y, np.nan))
    with np.errstate(divide="ignore", invalid="ignore"):
        times = nanmedian(np.where(shapes > 0.0, (y - base[:, np.newaxis]) / shapes, np.nan))
    count = int(np.ceil(c.STEP_KEPT * len(y)))
    for _ in range(_ROUNDS):
        off = np.abs(y - base[:, np.newaxis] - times[:, np.newaxis] * shapes)
        kept = np.argsort(off, axis=1, kind="stable")[:, :count]
        some, values = np.take_along_axis(shapes, kept, axis=1), y[kept]
        middle, mean = some.mean(axis=1, keepdims=True), values.mean(axis=1)
        size = ((some - middle) ** 2).sum(axis=1)
        along = ((some - middle) * values).sum(axis=1)
        times = np.divide(along, size, out=np.zeros(len(size)), where=size > 0.0)
        base = mean - times * middle[:, 0]
    off = np.sort(np.abs(y - base[:, np.newaxis] - times[:, np.newaxis] * shapes), axis=1)[:, :count]
    return np.asarray(np.sqrt((off**2).mean(axis=1)))

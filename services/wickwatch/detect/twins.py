"""Two probes in one container that part: one of them creeps, and which it is can't be told from here.

A probe that creeps moves a little day by day. One put into another pot, or put right, moves at once. Where both read
what no working container has, or one reads nothing, their difference tells nothing. Not here: naming the fault
(`probe_fault`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.sight import Sight
from wickwatch.detect.window import cut, numbers

_DAY_H = 24


def parted(sight: Sight) -> list[int]:
    """Containers whose two probes have drifted apart over the last days; looked for once in a sweep."""
    return sight.once("parted", lambda: _parted(sight))


def _parted(sight: Sight) -> list[int]:
    place = sight.place
    which = np.flatnonzero(sight.tension.known & sight.twin.known & ~(sight.settling.container_until > sight.as_of))
    if not len(which):
        return []
    steps = _DAY_H * c.TWIN_DAYS
    one = cut(sight.frame.coarse, sight.tension.row[which], place.tension.since[which], steps)
    other = cut(sight.frame.coarse, sight.twin.row[which], place.twin.since[which], steps)
    highest = c.CREEP_LIMIT * place.container_rules.of("dry_limit_mbar")[which]
    return [int(which[n]) for n in numbers(creeps_apart(one, other, highest))]


def creeps_apart(
    one: NDArray[np.float32], other: NDArray[np.float32], highest_mbar: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Where two hourly tensions (N, T) of whole days have crept apart; hours with both above `highest_mbar` (N,) are
    a drought's and tell nothing.
    """
    top = highest_mbar[:, np.newaxis]
    with np.errstate(invalid="ignore"):
        lower = np.fmin(one, other)
        usable = (lower <= top) & (lower >= c.TWIN_LEAST_MBAR)
        gap = np.where(usable, one - other, np.nan)
    latest = nanmedian(gap[:, -c.TWIN_NOW_H :])
    quarters = nanmedian(gap.reshape(len(gap), -1, _DAY_H // 4))
    found = np.zeros(len(gap), dtype=np.bool_)
    for days in c.TWIN_LOOKS_DAYS:
        lately = quarters[:, -4 * days :]
        early, now = nanmedian(lately[:, : 2 * days]), nanmedian(lately[:, -2:])
        with np.errstate(invalid="ignore"):
            right = np.abs(latest - early) < c.TWIN_STILL * c.TWIN_APART_MBAR
            apart = np.flatnonzero((np.abs(now - early) >= c.TWIN_APART_MBAR) & ~right & ~found)  # few
        found[apart] = [_ramps(each) for each in lately[apart]]
    return found


def _ramps(values: NDArray[np.float64]) -> bool:
    """Whether a series by quarters of days is told by a level and a ramp after it far better than by one step."""
    known = np.flatnonzero(np.isfinite(values))
    if len(known) < c.TWIN_NEEDS_QUARTERS:
        return False
    x, y = known.astype(np.float64), values[known]
    ramp, begin = min((_rest(np.maximum(x - begin, 0.0), y), begin) for begin in x[:-2])
    step = min(_rest((x >= up).astype(np.float64), y) for up in x[1:])
    return bool(ramp <= c.TWIN_RAMP_SHARE * step and x[-1] - begin >= c.TWIN_RAMP_QUARTERS)


def _rest(shape: NDArray[np.float64], y: NDArray[np.float64]) -> float:
    """Sum of squares that a level and so much of a shape leave of a series."""
    centred, values = shape - shape.mean(), y - y.mean()
    size = float(centred @ centred)
    return float(values @ values) - (float(centred @ values) ** 2 / size if size > 0.0 else 0.0)

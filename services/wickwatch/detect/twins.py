"""Two probes in one container that part: one of them creeps, and which it is can't be told from here.

A probe that creeps moves a little day by day. One put into another pot, or put right, moves at once, be it twice in the
days looked at. Where both read what no working container has, or one reads nothing, their difference tells nothing. Not
here: naming the fault (`probe_fault`).
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
    gap = _gap(one, other, highest_mbar)
    latest = nanmedian(gap[:, -c.TWIN_NOW_H :])
    quarters = _by_quarters(gap)
    found = np.zeros(len(gap), dtype=np.bool_)
    for days in c.TWIN_LOOKS_DAYS:
        lately = quarters[:, -4 * days :]
        early, now = _early(lately), _now(lately)
        with np.errstate(invalid="ignore"):
            right = np.abs(latest - early) < c.TWIN_STILL * c.TWIN_APART_MBAR
            apart = np.flatnonzero((np.abs(now - early) >= c.TWIN_APART_MBAR) & ~right & ~found)  # few
        crept = without_leaps(lately[apart])
        far = np.abs(_now(crept) - _early(crept)) >= c.TWIN_APART_MBAR  # few
        found[apart[far]] = [_ramps(each) for each in lately[apart[far]]]
    return found


def crept_mbar(
    one: NDArray[np.float32], other: NDArray[np.float32], highest_mbar: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How far [mbar] the first of two hourly tensions (N, T) of whole days has crept above the other, (N,).

    Leaps left out; NaN where too little is known. `highest_mbar` (N,) as above.
    """
    crept = without_leaps(_by_quarters(_gap(one, other, highest_mbar)))
    return _now(crept) - _early(crept)


def without_leaps(quarters: NDArray[np.float64]) -> NDArray[np.float64]:
    """A difference by quarters of days (N, Q) with what it leapt from one to the next one known taken out."""
    column = np.arange(quarters.shape[1])
    newest = np.maximum.accumulate(np.where(np.isfinite(quarters), column, 0), axis=1)
    held = np.take_along_axis(quarters, newest, axis=1)  # what was known last, NaN only before the first
    change = np.nan_to_num(np.diff(held, axis=1))
    leaps = np.where(np.abs(change) >= c.TWIN_LEAP_MBAR, change, 0.0)
    return np.asarray(quarters - np.cumsum(np.pad(leaps, ((0, 0), (1, 0))), axis=1))


def _gap(
    one: NDArray[np.float32], other: NDArray[np.float32], highest_mbar: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Difference [mbar] of two hourly tensions (N, T), NaN where it tells nothing."""
    with np.errstate(invalid="ignore"):
        lower = np.fmin(one, other)
        usable = (lower <= highest_mbar[:, np.newaxis]) & (lower >= c.TWIN_LEAST_MBAR)
        return np.where(usable, one - other, np.nan).astype(np.float64)


def _by_quarters(gap: NDArray[np.float64]) -> NDArray[np.float64]:
    return nanmedian(gap.reshape(len(gap), -1, _DAY_H // 4))


def _early(quarters: NDArray[np.float64]) -> NDArray[np.float64]:
    """Median (N,) of the first half of some quarters of days (N, Q)."""
    return nanmedian(quarters[:, : quarters.shape[1] // 2])


def _now(quarters: NDArray[np.float64]) -> NDArray[np.float64]:
    """Median (N,) of the last half day."""
    return nanmedian(quarters[:, -2:])


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

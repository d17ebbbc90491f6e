"""Two probes in one container that part: one of them creeps, and which it is can't be told from here.

A probe that creeps moves a little day by day. One put into another pot, or put right, moves at once. Where one of them
reads what no working container has, their difference tells nothing. Not here: naming the fault (`probe_fault`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import mann_kendall, nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.sight import Sight
from wickwatch.detect.window import cut, numbers

_DAY_H = 24


def parted(sight: Sight) -> list[int]:
    """Containers whose two probes have drifted apart over the last days."""
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
    """Where two hourly tensions (N, T) of whole days have crept apart; none above `highest_mbar` (N,) is believed."""
    top = highest_mbar[:, np.newaxis]
    with np.errstate(invalid="ignore"):
        usable = (np.fmax(one, other) <= top) & (np.fmin(one, other) >= c.TWIN_LEAST_MBAR)
        gap = np.where(usable, one - other, np.nan)
    hours = gap.reshape(len(gap), -1, _DAY_H)
    daily = np.where(np.isfinite(hours).sum(axis=2) >= c.TWIN_NEEDS_HOURS, nanmedian(hours), np.nan)
    early = nanmedian(daily[:, : daily.shape[1] // 2])
    falls = (daily[:, -1] < early)[:, np.newaxis]
    chance = mann_kendall(np.where(falls, -daily, daily)).p_rising
    with np.errstate(invalid="ignore"):
        apart = (np.abs(daily[:, -1] - early) >= c.TWIN_MBAR) & (chance <= c.TWIN_CHANCE)
        apart &= np.abs(daily[:, -1] - daily[:, -1 - c.TWIN_LATELY_DAYS]) >= c.TWIN_LATELY_MBAR
    some = np.flatnonzero(apart)  # few
    if len(some):
        quarters = nanmedian(gap[some].reshape(len(some), -1, _DAY_H // 4))
        apart[some] = [_ramps(each) for each in quarters]
    return np.asarray(apart)


def _ramps(values: NDArray[np.float64]) -> bool:
    """Whether a series is better told by a level and a ramp after it than by a step between two levels."""
    known = np.flatnonzero(np.isfinite(values))
    if len(known) < c.TWIN_NEEDS_QUARTERS:
        return False
    x, y = known.astype(np.float64), values[known]
    ramp = min(_rest(np.maximum(x - begin, 0.0), y) for begin in x[:-2])
    steps = min(_rest((x >= up).astype(np.float64), y) for up in x[1:])
    return ramp <= c.TWIN_RAMP_SHARE * steps


def _rest(shape: NDArray[np.float64], y: NDArray[np.float64]) -> float:
    """Sum of squares that a level and so much of a shape leave of a series."""
    centred, values = shape - shape.mean(), y - y.mean()
    size = float(centred @ centred)
    return float(values @ values) - (float(centred @ values) ** 2 / size if size > 0.0 else 0.0)

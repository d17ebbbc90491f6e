"""How water comes into containers while their tension falls: how much, how steadily, and whether it still does.

Tension becomes water by the retention curve of the container's medium. Water that an emitter gives arrives at one rate
for as long as it is open; of what a can poured, or of a pulse that ends, less and less arrives as it spreads, and that
is seen before it ends. Not here: when the fall began (`fall`), nor where the water comes from (`sudden_wetting`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.media import MEDIA
from wickwatch.agronomy.retention import theta
from wickwatch.detect import constants as c
from wickwatch.detect.window import runs
from wickwatch.fleet import Container


@dataclass(frozen=True)
class Arrival:
    """N falls; all (N,).

    `gained_l` since the fall began, over at most `WETTING_SPAN_H` hours; NaN where the
    medium or its volume is not known. `steady_min`: the longest time on end at more than `STEADY_SHARE` of the highest
    rate. `comes`: water still comes at such a rate; `undiminished`: the newest reading has as much of it as any before,
    but for noise; `dwindles`: it has far less than one before had; `ends`: it has less than half as much.
    """

    gained_l: NDArray[np.float64]
    steady_min: NDArray[np.float64]
    comes: NDArray[np.bool_]
    undiminished: NDArray[np.bool_]
    dwindles: NDArray[np.bool_]
    ends: NDArray[np.bool_]


def arrival(
    containers: Sequence[Container],
    fine: NDArray[np.float32],
    onset: NDArray[np.int64],
    bottom: NDArray[np.int64],
    apart: NDArray[np.int64],
) -> Arrival:
    """Judge falls of fine tension (N, T), gaps filled; they began after column `onset` and were deepest at `bottom`.

    Readings are `apart` (N,) columns from one another.
    """
    first = max(int(onset.min(initial=fine.shape[1])), 0)
    water, known = _water(containers, fine[:, first:])
    begin, end = np.maximum(onset - first, 0), bottom - first
    column = np.arange(water.shape[1])
    # Over two buckets: seldom readings fill every second one.
    rate = np.full(water.shape, np.nan)
    rate[:, 2:] = water[:, 2:] - water[:, :-2]
    with np.errstate(invalid="ignore"):
        rate = np.where((column > begin[:, np.newaxis]) & np.isfinite(rate), rate, 0.0)
        most = rate.max(axis=1, initial=0.0)[:, np.newaxis]
        strong = (rate >= c.STEADY_SHARE * most) & (most > 0.0)
    run = runs(strong & (column <= end[:, np.newaxis]))
    last = np.minimum(begin + round(12 * c.WETTING_SPAN_H), water.shape[1] - 1)
    at = np.stack([begin, last], axis=1)
    gained = np.diff(np.take_along_axis(water, at, axis=1), axis=1)[:, 0]
    steady_min = 5.0 * run.max(axis=1, initial=0)
    steps = _by_reading(water, begin, apart)
    less = (_less(steps, share) for share in (c.DWINDLES, c.ENDS_SHARE))
    return Arrival(np.where(known, gained, np.nan), steady_min, strong[:, -1], _undiminished(steps), *less)


def gained(containers: Sequence[Container], fine: NDArray[np.float32], begin: int, end: int) -> NDArray[np.float64]:
    """Water [l] that containers gained in all between two columns of their fine tension (N, T), gaps filled; (N,).

    0 where they lost some, and where the medium or its volume is not known.
    """
    water, known = _water(containers, fine[:, [begin, end]])
    return np.where(known, np.fmax(water[:, 1] - water[:, 0], 0.0), 0.0)


def _by_reading(water: NDArray[np.float64], begin: NDArray[np.int64], apart: NDArray[np.int64]) -> NDArray[np.float64]:
    """What each of the last readings of water (N, T) has gained, the newest first, (N, `DWINDLES_READINGS`).

    They are `apart` (N,) columns; NaN for those before a fall began after column `begin` (N,).
    """
    columns = water.shape[1] - 1 - np.arange(c.DWINDLES_READINGS + 1) * apart[:, np.newaxis]
    at = np.take_along_axis(water, np.maximum(columns, 0), axis=1)
    return np.where(columns[:, 1:] >= np.maximum(begin, 0)[:, np.newaxis], at[:, :-1] - at[:, 1:], np.nan)


def _undiminished(steps: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Where the newest reading has gained as much as any before, of two at least."""
    newest, before = steps[:, 0], steps[:, 1]
    with np.errstate(invalid="ignore"):
        as_much = newest >= c.UNDIMINISHED * np.fmax.reduce(steps, axis=1)
        return np.asarray(as_much & np.isfinite(before) & (newest > 0.0))


def _less(steps: NDArray[np.float64], share: float) -> NDArray[np.bool_]:
    """Where the newest reading has gained less than this share of the one that gained most."""
    with np.errstate(invalid="ignore"):
        return np.asarray(steps[:, 0] < share * np.fmax.reduce(steps, axis=1))


def _water(containers: Sequence[Container], fine: NDArray[np.float32]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Water (N, T) in litres, and for which containers; for the others it has no known unit."""
    tension = np.maximum(fine.astype(np.float64), c.WATER_FROM_MBAR)
    # A medium that nobody told dries by the same law near its set point.
    with np.errstate(invalid="ignore"):
        water = np.maximum(tension, c.WATER_POWER_FROM_MBAR) ** c.WATER_POWER
    names = np.array([each.medium or "" for each in containers])
    volume_l = np.array([each.volume_l or np.nan for each in containers])
    for name in np.unique(names):
        medium = MEDIA.get(str(name))
        if medium is not None:
            rows = np.flatnonzero((names == name) & np.isfinite(volume_l))
            water[rows] = theta(medium, tension[rows]) * volume_l[rows, np.newaxis]
    return water, np.isfinite(volume_l) & np.isin(names, list(MEDIA))

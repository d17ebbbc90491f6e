"""Refills as they are seen in a level: when, and how many litres, whether somebody wrote them down or not.

Not here: which entry goes with which (`store.refills`), nor the cutting of refills out of a draw (`draws`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wickwatch.agronomy.segments import rising
from wickwatch.agronomy.tank import Tank
from wickwatch.detect.constants import LEVEL_RISE_MM, REFILL_STEPS

#: Buckets between two rises that are still one refill: somebody fetched another can. Chosen here.
_PAUSE = 6

#: Share of a rise at either end that may be noise. Chosen here.
_ENDS = 0.1

_STEP = timedelta(minutes=5)


@dataclass(frozen=True)
class Rise:
    """One refill: from the bucket in which the level began to rise until the one in which it no longer did."""

    start: datetime
    end: datetime
    litres: float


def rises(start: datetime, level_mm: ArrayLike, tank: Tank) -> list[Rise]:
    """Refills in one reservoir's levels (T,), mm above the bottom in 5-minute buckets from `start`; NaN for none."""
    level = np.asarray(level_mm, dtype=np.float64)
    heard = np.flatnonzero(np.isfinite(level))
    if len(heard) < 2:
        return []
    marked = np.flatnonzero(rising(level, REFILL_STEPS + 1, LEVEL_RISE_MM))
    runs = np.split(marked, np.flatnonzero(np.diff(marked) > _PAUSE) + 1) if len(marked) else []
    found = (_rise(start, level, heard, run, tank) for run in runs)
    return [rise for rise in found if rise is not None]


def _rise(
    start: datetime, level: NDArray[np.float64], heard: NDArray[np.int64], run: NDArray[np.int64], tank: Tank
) -> Rise | None:
    """A run of marked buckets as a refill; a rise in a silence is marked where readings come again."""
    before, after = heard[heard <= run[0]], heard[heard >= run[-1]]
    if not len(before) or not len(after):
        return None
    foot, head = int(before[-1]), int(after[0])
    volumes = tank.volume_l(tank.clip_level_mm((level[foot], level[head])))
    litres = float(volumes[1] - volumes[0])
    if litres <= 0.0:
        return None
    # Noise before and after is no part of it.
    share = (level[foot : head + 1] - level[foot]) / (level[head] - level[foot])
    last = int(np.flatnonzero(share >= 1.0 - _ENDS)[0])
    first = int(np.flatnonzero(share[:last] <= _ENDS)[-1])
    return Rise(_at(start, foot + first), _at(start, foot + last), round(litres, 1))


def _at(start: datetime, bucket: int) -> datetime:
    return start.astimezone(UTC) + bucket * _STEP

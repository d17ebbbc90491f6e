"""Fast drying: within hours, against the container's own usual day and its own usual rise between two waterings.

"Usual" is the median of past days around the same hour of the facility's day. A container dries fast when it stands
above that by the rule's `fast_drying_mbar` and has risen further than it does before its emitter opens; it goes on
doing so until it is back near usual. Not here: drying over days (`drift_slow`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.habits import Habits, rises

#: Hours around the same hour of past days that make "usual".
_AROUND = (-1, 0, 1)


@dataclass(frozen=True)
class Fast:
    """N containers, all (N,), NaN where not known.

    `now_mbar` over the last quarter hour, `above_mbar` its height over usual, `per_h` how fast it has risen since its
    last low; `since_h` hours ago it left its usual band; `found` as this module's first paragraph says.
    """

    now_mbar: NDArray[np.float64]
    above_mbar: NDArray[np.float64]
    per_h: NDArray[np.float64]
    since_h: NDArray[np.float64]
    found: NDArray[np.bool_]


def fast(
    fine: NDArray[np.float32],
    hourly: NDArray[np.float32],
    usual_mbar: NDArray[np.float64],
    hour: int,
    known: Habits,
    threshold_mbar: NDArray[np.float64],
    ceiling_mbar: NDArray[np.float64],
) -> Fast:
    """Judge fine (N, F) and hourly (N, T) tension of the same containers.

    `usual_mbar` (N, 24) as `usual` has it; `hour` is the hour of the day now; `threshold_mbar` (N,) is the rule,
    `ceiling_mbar` (N,) what is within usual days anyway.
    """
    now = nanmedian(fine[:, -c.NOW_STEPS :])
    recent = np.column_stack([hourly[:, -c.FAST_HOURS :], now])
    hours = np.append(np.arange(-c.FAST_HOURS, 0) + hour, hour) % 24
    above = recent - usual_mbar[:, hours]
    limit = threshold_mbar[:, np.newaxis]
    raised = (above >= limit) & (recent >= ceiling_mbar[:, np.newaxis])
    # It has risen further since its last low than it does between waterings.
    raised &= rises(known, now) > c.RISE_BEYOND * np.fmax(known.usual_rise, c.LEAST_RISE_MBAR)[:, np.newaxis]
    held = np.where(np.isfinite(above), above >= c.FAST_RELEASE * limit, True)
    # Columns of the run of "held" that goes up to now.
    run = np.flip(np.logical_and.accumulate(np.flip(held, axis=1), axis=1), axis=1)
    length = run.sum(axis=1)
    per_h = _rise_per_h(fine)
    return Fast(
        now, above[:, -1], per_h, np.where(length > 0, length - 1.0, np.nan), np.asarray((raised & run).any(axis=1))
    )


def usual(hourly: NDArray[np.float32], columns: NDArray[np.int64]) -> NDArray[np.float64]:
    """Usual tension (N, 24) by hour of the facility's day, from hourly tension and its columns by hour (24, D)."""
    return np.stack([_usual(hourly, columns, hour) for hour in range(24)], axis=1)


def _usual(hourly: NDArray[np.float32], columns: NDArray[np.int64], hour: int) -> NDArray[np.float64]:
    """Median around an hour of the day over the days before the last one; NaN where too few tell."""
    past = np.concatenate([columns[(hour + shift) % 24, 1:] for shift in _AROUND])
    past = past[past >= 0]
    if not len(past):
        return np.full(len(hourly), np.nan)
    known = hourly[:, past]
    few = np.isfinite(known).sum(axis=1) < c.USUAL_DAYS * len(_AROUND)
    return np.where(few, np.nan, nanmedian(known))


def _rise_per_h(fine: NDArray[np.float32]) -> NDArray[np.float64]:
    """Rise [mbar/h] over the last hours, between the medians of their outer thirds."""
    recent = fine[:, -c.RISE_STEPS :]
    third = c.RISE_STEPS // 3
    hours = (c.RISE_STEPS - third) / 12.0
    return np.asarray((nanmedian(recent[:, -third:]) - nanmedian(recent[:, :third])) / hours)

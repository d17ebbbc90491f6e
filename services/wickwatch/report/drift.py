"""Emitters ranked by how surely their container gets drier, or wetter, from day to day.

The slope is the detectors' own (same hours of the day compared, Theil-Sen with its interval); which of many slopes are
more than chance is told by Mann-Kendall with the false discovery rate held over all emitters of the facility (Benjamini
and Hochberg 1995, J. R. Stat. Soc. B 57:289). Not here: whether anybody is called (`detect.drying_drift`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Bools, Interval
from wickwatch.agronomy.forecast import time_to_limit
from wickwatch.detect.drift_slow import slow
from wickwatch.detect.layout import Layout
from wickwatch.detect.settling import settling
from wickwatch.fleet import Work
from wickwatch.report.discovery import discovered
from wickwatch.report.readings import Readings
from wickwatch.report.week import DAYS, Week

_HOURS = 24 * DAYS


@dataclass(frozen=True)
class Drift:
    """N containers: `slope` [mbar/day] with its interval; `sure`: more than chance among so many; `days` that told.

    `to_limit` days from the end of the week until the dry limit, or for one that falls the wet limit, is passed:
    infinite where never, NaN where nothing tells.
    """

    slope: Interval
    sure: Bools
    days: NDArray[np.int64]
    to_limit: Interval

    def ranked(self, which: NDArray[np.int64]) -> NDArray[np.int64]:
        """These containers, those first whose slope is surely farthest from none; those of no slope left out."""
        low, high = self.slope.low[which], self.slope.high[which]
        away = np.fmax(np.fmax(low, -high), 0.0)
        told = np.isfinite(self.slope.value[which])
        order = np.lexsort((-np.abs(self.slope.value[which]), -away))
        return which[order[told[order]]]


def drift(place: Layout, hourly: Readings, week: Week, work: Sequence[Work]) -> Drift:
    """Judge the last seven days of hours before the end of the week."""
    if not place.containers:
        nothing = Interval(*(np.empty(0),) * 3)
        return Drift(nothing, np.empty(0, dtype=np.bool_), np.empty(0, dtype=np.int64), nothing)
    end = hourly.columns(week.start, week.until).stop
    start = max(end - _HOURS, 0)
    values = np.full((len(place.containers), _HOURS), np.nan, dtype=np.float32)
    values[:, _HOURS - (end - start) :] = hourly.tension_mbar[:, start:end]
    _forget(values, hourly, end, settling(place, work, hourly.start + end * hourly.step).history_from)
    seen = slow(values, DAYS)
    rises = seen.slope > 0.0
    # A fall is looked at where the container stands wettest, the second lowest hour of its last day.
    lowest = np.sort(values[:, -24:], axis=1)[:, 1]
    limits = [place.container_rules.of(name) for name in ("dry_limit_mbar", "wet_limit_mbar")]
    slope = Interval(seen.slope, seen.low, seen.high)
    dry = time_to_limit(seen.peak_mbar, limits[0], slope, rising=True)
    wet = time_to_limit(lowest, limits[1], slope, rising=False)
    to_limit = Interval(*(np.where(rises, a, b) for a, b in zip(dry.ends, wet.ends, strict=True)))
    p = np.minimum(2.0 * np.minimum(seen.p_rising, slow(-values, DAYS).p_rising), 1.0)
    return Drift(slope, discovered(np.where(seen.days >= 2, p, np.nan)), seen.days, to_limit)


def _forget(values: NDArray[np.float32], hourly: Readings, end: int, history_from: NDArray[np.datetime64]) -> None:
    """What lies before an emitter was re-set or a probe replaced says nothing of how it goes now."""
    for row in np.flatnonzero(~np.isnat(history_from)):
        since = int(np.ceil((history_from[row] - hourly.start) / hourly.step)) - (end - _HOURS)
        values[row, : max(min(since, _HOURS), 0)] = np.nan

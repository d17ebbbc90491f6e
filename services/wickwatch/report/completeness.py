"""How much of what should have been measured was, so that a gap is never read as calm.

Missing is what never came and what could not be believed. Not here: why (`service`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Floats
from wickwatch.detect.layout import Layout
from wickwatch.report.readings import Readings
from wickwatch.report.week import DAYS, Week

#: Below this share something is said of it. Chosen here: an hour and a half of a day.
WHOLE = 0.94


@dataclass(frozen=True)
class Completeness:
    """Shares 0 to 1, NaN where nothing was to be expected.

    `facility`; `rooms` (rooms, 7) by day; `probes` (N,) and `levels` (R,) of the week; `probe_gap_h` (N,) and
    `level_gap_h` (R,): the longest time [h] without a value.
    """

    facility: float
    rooms: Floats
    probes: Floats
    levels: Floats
    probe_gap_h: Floats
    level_gap_h: Floats


def completeness(place: Layout, seen: Readings, week: Week) -> Completeness:
    """Of one week."""
    columns = seen.columns(week.start, week.until)
    day = week.day_of(seen.times[columns])
    probes = np.isfinite(seen.tension_mbar[:, columns]), seen.expected[:, columns]
    levels = np.isfinite(seen.level_mm[:, columns]), seen.level_expected[:, columns]
    rooms = np.full((len(place.rooms), DAYS), np.nan)
    for room in range(len(place.rooms)):
        inside, tanks = place.room_of == room, place.reservoir_room == room
        for each in range(DAYS):
            on = day == each
            parts = ((probes, inside), (levels, tanks))
            here = [(there[rows][:, on], due[rows][:, on]) for (there, due), rows in parts]
            rooms[room, each] = _share(sum(int((a & b).sum()) for a, b in here), sum(int(b.sum()) for _, b in here))
    step_h = float(seen.step / np.timedelta64(1, "h"))
    met = sum(int((there & due).sum()) for there, due in (probes, levels))
    wanted = sum(int(due.sum()) for _, due in (probes, levels))
    return Completeness(
        facility=_share(met, wanted),
        rooms=rooms,
        probes=_shares(*probes),
        levels=_shares(*levels),
        probe_gap_h=_longest(*probes) * step_h,
        level_gap_h=_longest(*levels) * step_h,
    )


def _share(met: int, wanted: int) -> float:
    return met / wanted if wanted else float("nan")


def _shares(there: NDArray[np.bool_], due: NDArray[np.bool_]) -> Floats:
    wanted = due.sum(axis=1)
    return np.where(wanted > 0, (there & due).sum(axis=1) / np.maximum(wanted, 1), np.nan)


def _longest(there: NDArray[np.bool_], due: NDArray[np.bool_]) -> Floats:
    """Most steps in a row (N,) from what was due and missing to the next value or the end; 0 where nothing was."""
    column = np.arange(there.shape[1])
    reset = np.maximum.accumulate(np.where(there | ~due & ~_ahead(there, due), column, -1), axis=1)
    run = column - reset
    return np.asarray(np.where(due & ~there, run, 0).max(axis=1, initial=0), dtype=np.float64)


def _ahead(there: NDArray[np.bool_], due: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Steps at which nothing was due though the last that was due is missing: the gap goes on through them."""
    column = np.arange(there.shape[1])
    met = np.maximum.accumulate(np.where(there, column, -1), axis=1)
    missed = np.maximum.accumulate(np.where(due & ~there, column, -1), axis=1)
    return np.asarray(missed > met)

"""What each container usually does between and at its waterings, told by its whole hours alone.

Made once an hour for those asked (`Sight.by_hour`), since swings are followed hour by hour and every kind of water asks
for them. The hour that runs is added by `rises`. Not here: what an unusual rise or fall means.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.layout import NONE
from wickwatch.detect.peaks import DAY_HOURS, usual_peak
from wickwatch.detect.sight import Sight
from wickwatch.detect.swings import State, Turns, swings
from wickwatch.detect.window import cut

#: Hours before the last whole one whose rises are kept.
_RISES = c.FAST_HOURS
_STATE = len(State.__dataclass_fields__)


@dataclass(frozen=True)
class Habits:
    """N containers; all (N,) unless said, mbar, NaN where too few swings are seen.

    `rise` (N, 24): how far each of the last whole hours stood above the last low, and `state` that it goes on from.
    `usual_rise` and `usual_fall` as `swings` has them, of what ended before the last day and the last two.
    `peak` is the usual daily peak without the days a drift may take, `peak_lately` with all but the last two.
    `watered_before`: tension from which waterings before the last days began, `watered_at` that of the last two: of
    these the one nearer to it, so that a single odd one (the first after a drought, a can) tells nothing; NaN where the
    last days had fewer than two.
    """

    rise: NDArray[np.float64]
    state: State
    usual_rise: NDArray[np.float64]
    usual_fall: NDArray[np.float64]
    peak: NDArray[np.float64]
    peak_lately: NDArray[np.float64]
    watered_at: NDArray[np.float64]
    watered_before: NDArray[np.float64]

    @property
    def usual_top(self) -> NDArray[np.float64]:
        """Tension at which containers are watered at the latest (N,): on usual days, or twice of late."""
        return np.fmax(self.peak_lately, self.watered_at)


def habits(sight: Sight, which: NDArray[np.int64]) -> Habits:
    """Habits of the given containers, since their probe or emitter was last changed."""
    made = sight.by_hour("habits", len(sight.place.containers), which, lambda some: _made(sight, some))
    rise, state, rest = np.split(made, [_RISES, _RISES + _STATE], axis=1)
    return Habits(rise, State(*(column.astype(np.float32) for column in state.T)), *rest.T)


def above_usual(sight: Sight) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Containers on lines whose tension is known (N,), and how far it stands above their usual peak now (N,) [mbar]."""

    def made() -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        place = sight.place
        which = np.flatnonzero(sight.tension.known & (place.line_of != NONE))
        now = nanmedian(cut(sight.frame.fine, sight.tension.row[which], place.tension.since[which], c.NOW_STEPS))
        with np.errstate(invalid="ignore"):
            return which, np.asarray(now - habits(sight, which).usual_top)

    return sight.once("above usual", made)


def above_usual_by_line(sight: Sight, least_mbar: float) -> NDArray[np.int64]:
    """How many containers of each line stand at least so far above their usual peak now (lines,)."""
    on_line, over_mbar = above_usual(sight)
    with np.errstate(invalid="ignore"):
        high = on_line[over_mbar >= least_mbar]
    return np.bincount(sight.place.line_of[high], minlength=len(sight.place.lines))


def _made(sight: Sight, which: NDArray[np.int64]) -> NDArray[np.float64]:
    since = np.fmax(sight.place.tension.since[which], sight.settling.history_from[which])
    hourly = cut(sight.frame.coarse, sight.tension.row[which], since)
    seen = swings(hourly[:, -c.SWING_HOURS :], c.TURN_MBAR, _RISES)
    width = min(c.SWING_HOURS, hourly.shape[1])
    late = width - c.UNEVEN_DAYS * DAY_HOURS
    before = seen.peaks.before(late)
    enough = np.isfinite(before).sum(axis=1) >= c.SWINGS_NEEDED
    watered_before = np.where(enough, nanmedian(before), np.nan)
    columns = [
        seen.usual_rise,
        np.fmax(seen.falls.usual(width - c.FALL_IGNORES_HOURS), c.LEAST_FALL_MBAR),
        usual_peak(hourly),
        usual_peak(hourly, c.SUPPLY_IGNORES_DAYS),
        _last_two(seen.peaks, late, watered_before),
        watered_before,
    ]
    state = [getattr(seen.state, name) for name in State.__dataclass_fields__]
    return np.concatenate([seen.rise, np.stack([*state, *columns], axis=1)], axis=1).astype(np.float64)


def _last_two(peaks: Turns, late: int, usual_mbar: NDArray[np.float64]) -> NDArray[np.float64]:
    """Of the last two heights the one nearer to `usual_mbar` (N,); NaN where not both were seen from `late` on."""
    count = (peaks.column >= 0).sum(axis=1)[:, np.newaxis]
    if peaks.column.shape[1] < 2:
        return np.full(len(count), np.nan)
    place = np.maximum(count - [[1, 2]], 0)
    both = (count[:, 0] >= 2) & (np.take_along_axis(peaks.column, place, axis=1) >= late).all(axis=1)
    heights = np.take_along_axis(peaks.size, place, axis=1).astype(np.float64)
    nearer = np.argmin(np.abs(heights - np.nan_to_num(usual_mbar)[:, np.newaxis]), axis=1)
    return np.where(both, np.take_along_axis(heights, nearer[:, np.newaxis], axis=1)[:, 0], np.nan)


def rises(known: Habits, now_mbar: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far the last whole hours and now stand above the last low, (N, 25) [mbar]."""
    last = known.rise[:, -1]
    now = known.state.rise(now_mbar.astype(np.float32), c.TURN_MBAR)
    return np.column_stack([known.rise, np.where(np.isfinite(now_mbar), now, last)])


def is_wet(tension_mbar: NDArray[np.floating], top_mbar: NDArray[np.float64], known: Habits) -> NDArray[np.bool_]:
    """Where containers' tension (N, T) is far below what their waterings take them to from `top_mbar` (N,).

    Somebody poured; one that is on its way up from there is not due for water, and tells nothing by
    having none. False where too little is known.
    """
    with np.errstate(invalid="ignore"):
        return np.asarray(tension_mbar < (top_mbar - c.WET_FALLS * known.usual_fall)[:, np.newaxis])

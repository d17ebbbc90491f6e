"""Instruments that stand still: one value for longer than this one ever shows it.

Noise makes most instruments move within an hour, whatever happens to the water. One of coarse steps and little noise
shows one value for hours where nothing drinks: by night, or once a plant is taken out. So stillness is told by how
often the instrument shows the same twice in its quietest hours, and at its quietest where it hardly moves at these
hours: a value in the middle of a coarse step stays there for longer than one on its way. Where that says little, only
many hours do. By day, where it moved at these hours yesterday and until it stood still, less will do than what its
quietest hours ask, unless it had slowed before, as a pot does whose plant was just taken out; where it has hardly moved
at any hour of late, its plant taken out, more. One whose steps hide its noise is told by day only, or by many hours: in
the middle of a step it rests for as long as its water does, and so it may by day in a pot wetter than ever. A silent
while is no stillness. Not here: which faults are called (`probe_fault`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import constants as c
from wickwatch.detect.frame import FINE_PER_H
from wickwatch.detect.layout import Attached
from wickwatch.detect.sight import Sight
from wickwatch.detect.window import cut, numbers, runs

_FINE_H = 1.0 / FINE_PER_H
_DAY = 24


def stand_still(
    sight: Sight, which: NDArray[np.int64], row_of: NDArray[np.int64], channels: Attached
) -> dict[int, float]:
    """Those of the subjects `which` whose channel stands still, with for how many hours; the rest is by subject."""
    frame, since_of = sight.frame, channels.since
    steps = round(c.FLAT_HOURS / _FINE_H)
    low, high = (cut(frame.fine, row_of[which], since_of[which], steps, name) for name in ("low", "high"))
    with np.errstate(invalid="ignore"):
        still = np.fmax.reduce(high, axis=1) - np.fmin.reduce(low, axis=1) <= c.SAME_MBAR
    which = which[still]  # few
    if not len(which):
        return {}
    rows, since = row_of[which], since_of[which]
    mean, low, high = (cut(frame.fine, rows, since, None, name) for name in ("mean", "low", "high"))
    hours = flat_hours(mean, low, high, _FINE_H)
    buckets = hours / _FINE_H
    chance, at_best, here = (
        chance_of_stillness(mean, low, high, buckets, steps, among)
        for steps, among in (
            (c.FLAT_WINDOW_STEPS, None),
            (c.FLAT_SHORT_WINDOW_STEPS, None),
            (c.FLAT_SHORT_WINDOW_STEPS, alike_hours(mean.shape[1], buckets)),
        )
    )
    idle = span(mean, low, high, buckets) < c.FLAT_MOVES_MBAR
    slowed = had_slowed(low, high, buckets)
    hides = hides_noise(mean, low, high, buckets, channels.interval_s[which])
    value = sight.frame.last_value[rows]
    low, high = (cut(frame.coarse, rows, since, None, name) for name in ("low", "high"))
    # What it does usually, without the present stillness.
    column = np.arange(low.shape[1])
    past = column < (low.shape[1] - np.ceil(hours) - 1)[:, np.newaxis]
    before_low, before_high = np.where(past, low, np.nan), np.where(past, high, np.nan)
    told = np.isfinite(before_low).sum(axis=1) >= c.DAY_NEEDS_HOURS
    usual = longest_flat_hours(before_low, before_high)
    moves, yesterday = usual_move(before_low, before_high, hours)
    awake = (moves >= c.FLAT_MOVES_MBAR) & (yesterday >= c.FLAT_MOVES_MBAR) & ~slowed
    # Standing in water it need not move at hours at which it used to.
    with np.errstate(invalid="ignore"):
        awake &= ~(hides & (value < np.fmin.reduce(before_low[:, :-_DAY], axis=1) - c.FLAT_MOVES_MBAR))
    # By chance only where a night is among what is known of it.
    chance[np.isfinite(before_low[:, -c.FLAT_KNOWN_WITHIN_H :]).sum(axis=1) < c.FLAT_KNOWN_H] = 1.0
    slow = np.where(awake, c.FLAT_AWAKE_HOURS, np.maximum(usual + c.FLAT_ASLEEP_HOURS, c.FLAT_AWAKE_HOURS))
    by_chance = chance <= np.where(idle, c.FLAT_IDLE_CHANCE, c.FLAT_CHANCE)
    by_chance &= awake | (~hides & (at_best <= c.FLAT_SHORT_CHANCE))
    by_chance |= awake & (here <= c.FLAT_CHANCE) & (chance <= c.FLAT_AWAKE_CHANCE)
    stuck = told & (hours >= c.FLAT_HOURS) & (by_chance | (hours >= slow))
    return {int(which[n]): float(hours[n]) for n in numbers(stuck)}


def flat_hours(
    mean: NDArray[np.float32], low: NDArray[np.float32], high: NDArray[np.float32], step_h: float
) -> NDArray[np.float64]:
    """Hours for which a channel has shown exactly the same value up to now, (N,); arrays (N, T) of one grid.

    They begin after the last gap in its readings: what it showed meanwhile nobody knows.
    """
    last = np.where(np.isfinite(mean), mean, np.nan)
    column = np.arange(mean.shape[1])
    known = np.isfinite(last)
    newest = np.max(np.where(known, column, -1), axis=1)
    value = np.take_along_axis(mean, np.maximum(newest, 0)[:, np.newaxis], axis=1)
    with np.errstate(invalid="ignore"):
        other = known & ((high - low > c.SAME_MBAR) | (np.abs(mean - value) > c.SAME_MBAR))
    before = np.maximum.accumulate(np.where(known, column, -1), axis=1)[:, :-1]
    gap = np.zeros(mean.shape, dtype=np.bool_)
    gap[:, 1:] = known[:, 1:] & (column[1:] - before > c.FLAT_GAP_STEPS)
    last_other = np.max(np.where(other, column, np.where(gap, column - 1, -1)), axis=1)
    first = np.argmax(known & (column > last_other[:, np.newaxis]), axis=1)
    return np.where(newest > last_other, (newest - first + 1) * step_h, 0.0)


def chance_of_stillness(
    mean: NDArray[np.float32],
    low: NDArray[np.float32],
    high: NDArray[np.float32],
    buckets: NDArray[np.float64],
    window_steps: int,
    among: NDArray[np.bool_] | None = None,
) -> NDArray[np.float64]:
    """How likely channels show one value for so long as now by chance alone, (N,), if each bucket is one draw.

    The last `buckets` (N,) of the grid (N, T) are the stillness. Before it, the window of so many buckets in which most
    were like the one before tells how likely that is; 1 where there are too few. `among` (N, T - window_steps + 1) are
    the windows that count, by where they begin; by default all.
    """
    column = np.arange(mean.shape[1])
    known = np.isfinite(mean)
    quiet = high - low <= c.SAME_MBAR  # False where there is no reading
    before = np.full(mean.shape, -1)
    before[:, 1:] = np.maximum.accumulate(np.where(known, column, -1), axis=1)[:, :-1]
    at = np.maximum(before, 0)
    with np.errstate(invalid="ignore"):
        same = quiet & np.take_along_axis(quiet, at, axis=1)
        same &= np.abs(mean - np.take_along_axis(mean, at, axis=1)) <= c.SAME_MBAR
    begins = (mean.shape[1] - buckets)[:, np.newaxis]
    counted = known & (before >= 0) & (column < begins)
    alike, of = (_windows(each, window_steps) for each in (same & counted, counted))
    counts = of >= c.FLAT_WINDOW_NEEDS if among is None else among & (of >= c.FLAT_WINDOW_NEEDS)
    share = np.where(counts, (alike + 0.5) / (of + 1.0), 0.0).max(axis=1)
    repeats = (known & (column >= begins)).sum(axis=1) - 1
    return np.where(share > 0.0, share ** np.maximum(repeats, 0), 1.0)


def alike_hours(steps: int, buckets: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which short windows of a grid of so many fine steps tell of hours like those of a stillness, by their begin.

    Those just before the last `buckets` (N,), and those of the same hours of the day before: (N, windows).
    """
    short, spare = c.FLAT_SHORT_WINDOW_STEPS, c.FLAT_SPARE_STEPS
    begin = np.arange(steps - short + 1)
    still = (steps - buckets)[:, np.newaxis]
    just_before = (begin >= still - short - spare) & (begin <= still - short)
    day = _DAY * FINE_PER_H
    yesterday = (begin >= still - day - spare) & (begin <= steps - day - short + spare)
    return np.asarray(just_before | yesterday)


def hides_noise(
    mean: NDArray[np.float32],
    low: NDArray[np.float32],
    high: NDArray[np.float32],
    buckets: NDArray[np.float64],
    interval_s: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Where channels' steps are so much wider than their noise that a value in the middle of one may stay by chance.

    That shows in how many buckets before the last `buckets` (N,) hold one value only, wherever in a step they lie. Told
    of channels with several readings in a bucket: by `interval_s` (N,), NaN where it is not known, and since some
    bucket holds more than one. Arrays are (N, T).
    """
    before = _before(mean, buckets)
    quiet = before & (high - low <= c.SAME_MBAR)
    share = quiet.sum(axis=1) / np.maximum(before.sum(axis=1), 1)
    with np.errstate(invalid="ignore"):
        readings = 3600.0 * _FINE_H / interval_s
        return np.asarray((readings >= 2.0) & (share < 1.0) & (share * np.sqrt(readings) >= c.FLAT_HIDES))


def span(
    mean: NDArray[np.float32], low: NDArray[np.float32], high: NDArray[np.float32], buckets: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How far channels moved before their last `buckets` (N,), over all of the grid (N, T) [mbar or mm]."""
    return _moved(low, high, _before(mean, buckets))


def had_slowed(low: NDArray[np.float32], high: NDArray[np.float32], buckets: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Where channels hardly moved in the hours before their last `buckets` (N,) either, though a day ago they did.

    So does a pot whose plant was just taken out; an instrument that gets stuck moves until then. Arrays (N, T).
    """
    until = (low.shape[1] - np.ceil(buckets))[:, np.newaxis]
    column = np.arange(low.shape[1])
    just_before, a_day_ago = (
        _moved(low, high, (at >= until - c.FLAT_JUST_BEFORE_STEPS) & (at < until))
        for at in (column, column + _DAY * FINE_PER_H)
    )
    with np.errstate(invalid="ignore"):
        return np.asarray(just_before < c.FLAT_SLOWED * a_day_ago)


def _moved(low: NDArray[np.float32], high: NDArray[np.float32], there: NDArray[np.bool_]) -> NDArray[np.float64]:
    """How far channels moved in those buckets of a grid (N, T); (N,) [mbar or mm], NaN where there is no reading."""
    top = np.fmax.reduce(np.where(there, high, np.nan), axis=1)
    return np.asarray(top - np.fmin.reduce(np.where(there, low, np.nan), axis=1), dtype=np.float64)


def _before(mean: NDArray[np.float32], buckets: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Where the grid (N, T) has readings before its last `buckets` (N,)."""
    column = np.arange(mean.shape[1])
    return np.asarray(np.isfinite(mean) & (column < (mean.shape[1] - buckets)[:, np.newaxis]))


def _windows(holds: NDArray[np.bool_], steps: int) -> NDArray[np.int64]:
    """In how many of every `steps` neighbouring columns something holds, (N, T - steps + 1)."""
    total = np.cumsum(np.pad(holds, ((0, 0), (1, 0))), axis=1)
    return np.asarray(total[:, steps:] - total[:, :-steps])


def longest_flat_hours(low: NDArray[np.float32], high: NDArray[np.float32]) -> NDArray[np.float64]:
    """The longest run of hours without any change that a channel has usually had, (N,), from the coarse grid (N, T).

    Runs longer than any night are none of its habits: it was stuck before.
    """
    with np.errstate(invalid="ignore"):
        still = high - low <= c.SAME_MBAR  # False where there is no reading
    run = runs(still)
    ends = np.concatenate([run[:, 1:] == 0, np.ones((len(run), 1), dtype=np.bool_)], axis=1)
    habits = np.where(ends & (run <= c.FLAT_HABIT_HOURS), run, 0)
    return np.asarray(habits.max(axis=1, initial=0), dtype=np.float64)


def usual_move(
    low: NDArray[np.float32], high: NDArray[np.float32], hours: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How far channels moved in the same hours of the days before, and of the last of them; (N,) [mbar or mm] each.

    NaN where too few days tell. `low` and `high` are of the coarse grid (N, T), `hours` (N,) how long the stillness
    has lasted. Of some days the second least counts: a day of its own stillness is no habit. Yesterday tells whether
    its plant has been taken out lately.
    """
    moved = np.full((len(hours), c.FLAT_DAYS), np.nan)
    column = np.arange(low.shape[1])
    first = low.shape[1] - np.ceil(hours)
    for day in range(1, c.FLAT_DAYS + 1):
        there = (column >= (first - _DAY * day)[:, np.newaxis]) & (column < low.shape[1] - _DAY * day)
        moved[:, day - 1] = _moved(low, high, there)
    ordered = np.sort(moved, axis=1)  # NaN last
    return np.asarray(ordered[:, 1]), moved[:, 0]

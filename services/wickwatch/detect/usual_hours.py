"""What is usual in each hour of the day, by past days: a median with a robust spread, so that one bad day is not usual.

Half days in which a line was cut off do not tell of it. Days of young plants, and those before plants were cut back
(`pruned`), are brought to today's size. Not here: which hours tell nothing for other reasons (`draws`).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.robust import mad_sigma
from wickwatch.agronomy.trend import nanmedian, theil_sen
from wickwatch.detect import constants as c
from wickwatch.detect.pruned import cut_back


class UsualHours(NamedTuple):
    """What is usual in each hour of the day, a median and its robust spread (R, 24) [l/h], NaN where too little tells.

    And by how much whole days differ, a standard deviation as a share (R,): those that tell what is usual, and all.
    """

    usual_l_per_h: NDArray[np.float64]
    spread_l_per_h: NDArray[np.float64]
    days_differ: NDArray[np.float64]
    all_days_differ: NDArray[np.float64]


def usual_hours(hourly: NDArray[np.float64], columns: NDArray[np.int64], dries: NDArray[np.float64]) -> UsualHours:
    """What is usual by the last days but the newest one, at today's size, of what left by the hour (R, T).

    `dries` (R, D): how fast containers dried in the last days (`uptake`).
    """
    hour = np.zeros(hourly.shape[1], dtype=np.int64)
    for each, places in enumerate(columns):
        hour[places[places >= 0]] = each
    expected = median_and_spread(hourly, columns)[0][:, hour]
    smaller = cut_back(hourly, _days(hourly, expected), dries)
    pruned = np.flatnonzero(smaller.share < 1.0)
    if len(pruned):
        before = np.arange(hourly.shape[1]) < (hourly.shape[1] - 24 * smaller.days[pruned])[:, np.newaxis]
        hourly = hourly.copy()
        hourly[pruned] *= np.where(before, smaller.share[pruned, np.newaxis], 1.0)
        expected[pruned] = median_and_spread(hourly[pruned], columns)[0][:, hour]
    told = np.where(_cut_off(hourly, expected), np.nan, hourly)
    # The newest day is what is judged: a leak in it is no growth.
    _, surely = _growth(_days(told, expected)[:, :-1])
    usual, spread = median_and_spread(told, columns, surely)
    # A sensor that stood still or was silent for days leaves a usual draw of long ago: plants have grown since.
    late = np.isfinite(hourly[:, -24 * (c.USUAL_DRAW_DAYS + 1) :]).sum(axis=1)
    full = np.isfinite(hourly).sum(axis=1) >= 24 * (c.USUAL_DRAW_DAYS + 1)
    usual[full & (late < 12 * c.USUAL_DRAW_DAYS)] = np.nan
    # Half days that do not tell what is usual do not tell how far a day is from it, either.
    differ, all_differ = _differ(_days(told, expected)[:, :-1]), _apart(_days(hourly, expected)[:, :-1])
    return UsualHours(usual, spread, differ, all_differ)


def _cut_off(hourly: NDArray[np.float64], expected: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Hours (R, T) of half days in which far less left than usual: the line was cut off, or had nothing to give."""
    halves = hourly.shape[1] // c.HALF_DAY_H
    first = hourly.shape[1] - halves * c.HALF_DAY_H
    known = np.isfinite(hourly) & np.isfinite(expected)

    def total(values: NDArray[np.float64]) -> NDArray[np.float64]:
        part = np.where(known, values, 0.0)[:, first:]
        return np.asarray(part.reshape(len(part), halves, c.HALF_DAY_H).sum(axis=2))

    usual = total(expected)
    # Of the dark half of a day little is usual, and noise is as much.
    tells = usual >= c.CUT_OFF_TELLS * usual.mean(axis=1, keepdims=True)
    low = np.repeat(tells & (total(hourly) < c.CUT_OFF_SHARE * usual), c.HALF_DAY_H, axis=1)
    return np.concatenate([np.zeros((len(low), first), dtype=np.bool_), low], axis=1)


def _days(hourly: NDArray[np.float64], expected: NDArray[np.float64]) -> NDArray[np.float64]:
    """What left in each of the last whole days (R, days) as a share of what was expected; NaN where little tells."""
    days = min(c.USUAL_DRAW_DAYS + 1, hourly.shape[1] // 24)
    shape = (len(hourly), days, 24)
    known = (np.isfinite(hourly) & np.isfinite(expected))[:, hourly.shape[1] - days * 24 :].reshape(shape)
    gone, usual = (
        np.where(known, each[:, each.shape[1] - days * 24 :].reshape(shape), 0.0).sum(axis=2)
        for each in (hourly, expected)
    )
    tells = (known.sum(axis=2) >= c.DAY_NEEDS_HOURS) & (usual > 0.0)
    return np.where(tells, gone / np.where(tells, usual, 1.0), np.nan)


def _differ(days: NDArray[np.float64]) -> NDArray[np.float64]:
    """By how much days (R, D) differ beside what plants surely grow by, (R,): a standard deviation as a share of a day.

    Growth that is seen, but not sure, is not in what is usual; it may be missing there since the middle of the days.
    """
    told = np.isfinite(days).sum(axis=1) > c.USUAL_DAYS
    grows, surely = (np.where(told, each, 0.0) for each in _growth(days))
    today = days * np.exp(grows[:, np.newaxis] * np.arange(days.shape[1])[::-1])
    return np.asarray(np.hypot(_apart(today), (grows - surely) * 0.5 * (days.shape[1] + 1)))


def _apart(days: NDArray[np.float64]) -> NDArray[np.float64]:
    """By how much days (R, D) lie apart, (R,): a robust standard deviation as a share of their median."""
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.nan_to_num(mad_sigma(days) / nanmedian(days), posinf=0.0))


def _growth(days: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """By how much draw grows over days (R, D), (R,) [1/day, of its logarithm]: a Theil-Sen slope, and its lower end.

    None where too few days tell, nor where it falls: pruning is no trend.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        logs = np.log(np.where(days > 0.0, days, np.nan))
    if days.shape[1] < c.USUAL_DAYS:
        return np.zeros(len(days)), np.zeros(len(days))
    seen = theil_sen(logs, np.arange(days.shape[1]), confidence=c.INTERVAL)
    grows, surely = (np.clip(np.nan_to_num(each), 0.0, c.GROWTH_MOST) for each in (seen.slope, seen.low))
    return np.asarray(grows), np.asarray(surely)


def median_and_spread(
    hourly: NDArray[np.float64], columns: NDArray[np.int64], growth: NDArray[np.float64] | None = None
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Median and robust spread of each hour of the day (R, 24) over the last days but the newest one.

    Hours of which those days do not tell enough, a refill every morning, take all days, but not less than what the one
    or two known of late had: lights may have changed since the others. Days are brought to the size of today by
    `growth` (R,).
    """
    padded = np.concatenate([hourly, np.full((len(hourly), 1), np.nan)], axis=1)
    past = padded[:, columns[:, 1:]]  # (R, 24, D); -1 is the padding
    enough = np.isfinite(past[..., : c.USUAL_DRAW_DAYS]).sum(axis=-1) >= c.USUAL_DAYS
    if growth is not None:
        past *= np.exp(growth[:, np.newaxis, np.newaxis] * (1.0 + np.arange(past.shape[-1])))
    late = nanmedian(past[..., : c.USUAL_DRAW_DAYS])
    past[..., c.USUAL_DRAW_DAYS :] = np.where(enough[..., np.newaxis], np.nan, past[..., c.USUAL_DRAW_DAYS :])
    median = np.fmax(nanmedian(past), late)
    spread = mad_sigma(past)
    # An hour's own few days tell little about its spread: its neighbours' and the day's tell more.
    around = nanmedian(np.stack([np.roll(spread, by, axis=1) for by in (-1, 0, 1)], axis=-1))
    pooled = np.fmax(around, nanmedian(spread)[:, np.newaxis])
    few = np.isfinite(past).sum(axis=-1) < c.USUAL_DAYS
    return np.where(few, np.nan, median), np.where(few, np.nan, pooled)

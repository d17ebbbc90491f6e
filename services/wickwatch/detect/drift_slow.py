"""Slow drying: day by day at the same part of the photoperiod, over a week or so.

Each hour is compared with the same hour of the other days, which takes lights and usual pulses out; a day's value is
the median of its hours. Theil-Sen gives the slope with its interval, Mann-Kendall says whether there is one. Not here:
drying within hours (`drift_fast`), nor when it is called (`drying_drift`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import TheilSen, mann_kendall, nanmedian, theil_sen
from wickwatch.detect import constants as c
from wickwatch.detect.peaks import DAY_HOURS


@dataclass(frozen=True)
class Slow:
    """N containers, all (N,), NaN where too few days tell.

    `slope` [mbar/day] with its interval; `p_rising` is the chance of such a rise without a trend; `nearing` [mbar/day]
    its slope above what was usual before these days if it surely rises, else `slope`; `risen_mbar` how far the last day
    stands above the first ones, or above what was usual before if that is higher; `peak_mbar` the second highest hour
    of the last day, which a limit is compared with; `days` that told.
    """

    slope: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    p_rising: NDArray[np.float64]
    nearing: NDArray[np.float64]
    risen_mbar: NDArray[np.float64]
    peak_mbar: NDArray[np.float64]
    days: NDArray[np.int64]


def slow(hourly: NDArray[np.float32], days: int) -> Slow:
    """Judge hourly tension (N, T), newest last, over its last `days` blocks of 24 hours."""
    blocks = hourly[:, -days * DAY_HOURS :].reshape(len(hourly), -1, DAY_HOURS)
    count = blocks.shape[1]
    usual = nanmedian(np.swapaxes(blocks, 1, 2))
    daily = _daily(blocks, usual)
    before = _before(hourly[:, : -days * DAY_HOURS], usual)
    # Without the last day this is history; a limit is reached from where the pot stands now.
    at = np.arange(count, dtype=np.float64)
    fitted = theil_sen(daily, at, confidence=c.INTERVAL)
    tested = mann_kendall(daily)
    last = np.sort(np.where(np.isfinite(blocks[:, -1]), blocks[:, -1], -np.inf), axis=1)
    return Slow(
        slope=fitted.slope,
        low=fitted.low,
        high=fitted.high,
        p_rising=np.where(np.isnan(tested.p_rising), 1.0, tested.p_rising),
        nearing=_nearing(daily, before, fitted),
        risen_mbar=daily[:, -1] - np.fmax(nanmedian(daily[:, : max(count // 3, 1)]), before),
        peak_mbar=np.where(np.isfinite(daily[:, -1]), last[:, -2], np.nan),
        days=np.asarray(fitted.count),
    )


def _daily(blocks: NDArray[np.float32], usual: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far each day of `blocks` (N, days, 24) stood above the `usual` (N, 24) of its hours; NaN where few tell."""
    departures = blocks - usual[:, np.newaxis, :]
    enough = np.isfinite(departures).sum(axis=2) >= c.DAY_NEEDS_HOURS
    return np.where(enough, nanmedian(departures), np.nan)


def _before(past: NDArray[np.float32], usual: NDArray[np.float64]) -> NDArray[np.float64]:
    """The middle one of the whole days of `past` (N, T) by `_daily`; NaN where too few tell (N,).

    Coming back to that from a can is no drift.
    """
    days = past.shape[1] // DAY_HOURS
    daily = _daily(past[:, past.shape[1] - days * DAY_HOURS :].reshape(len(past), days, DAY_HOURS), usual)
    told = np.isfinite(daily).sum(axis=1) >= c.DRIFT_BEFORE_DAYS
    return np.where(told, nanmedian(daily), np.nan)


def _nearing(daily: NDArray[np.float64], before: NDArray[np.float64], fitted: TheilSen) -> NDArray[np.float64]:
    """The slope of days (N, D), of those above what was usual `before` if it surely rises and some were lower; (N,)."""
    floor = before[:, np.newaxis]
    with np.errstate(invalid="ignore"):
        lower = np.flatnonzero((fitted.low > 0.0) & (daily < floor).any(axis=1))
    nearing = fitted.slope.copy()
    some = daily[lower]
    above = np.where(np.isfinite(some), np.fmax(some, floor[lower]), np.nan)
    nearing[lower] = theil_sen(above, np.arange(daily.shape[1], dtype=np.float64), confidence=c.INTERVAL).slope
    return nearing


def onset_hours(hourly: NDArray[np.float32], days: int) -> int:
    """Hours ago at which one container's (T,) drift left the level of the first days of the window."""
    daily = nanmedian(hourly[-days * DAY_HOURS :].reshape(-1, DAY_HOURS))
    level = nanmedian(daily[: max(len(daily) // 3, 1)])
    still = np.flatnonzero(daily <= level + c.ONSET_MBAR)
    return (len(daily) - 1 - int(still[-1] if len(still) else 0)) * DAY_HOURS

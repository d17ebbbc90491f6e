"""What leaked from reservoirs on past days, told by their quiet hours, so that it can be taken out of what is usual.

Plants drink next to nothing in some hours of the day, leaks do not rest. Not here: a leak of today (`reservoir_leak`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c


def least_of_days(hourly: NDArray[np.float64]) -> NDArray[np.float64]:
    """What left in the quietest hours (R, T), a share of `QUIET_HOURS` of them, of each of the last days (R, D)."""
    days = min(c.QUIET_DAYS, hourly.shape[1] // 24)
    blocks = hourly[:, hourly.shape[1] - 24 * days :].reshape(len(hourly), days, 24)
    ordered, known = np.sort(blocks, axis=2), np.isfinite(blocks).sum(axis=2)  # NaN last
    place = (c.QUIET_HOURS * known).astype(np.int64)[:, :, np.newaxis]
    least = np.take_along_axis(ordered, place, axis=2)[:, :, 0]
    return np.where(known >= c.QUIET_KNOWN_H, least, np.nan)


def leaked_on_days(hourly: NDArray[np.float64], least: NDArray[np.float64]) -> NDArray[np.float64]:
    """What left in hours (R, T) day and night, on days whose quiet hours (R, D) gave far more than most days' do.

    None where no hours are quiet: lights burn day and night. The newest day is what is judged, and stays as it is.
    """
    usual = nanmedian(least[:, :-1])[:, np.newaxis]
    known = np.isfinite(hourly)
    mean = np.where(known, hourly, 0.0).sum(axis=1, keepdims=True) / np.maximum(known.sum(axis=1, keepdims=True), 1)
    more = least - usual
    more[:, -1:] = 0.0
    with np.errstate(invalid="ignore"):
        by_day = np.where((more >= c.LEAK_RUNS_ON_L_PER_H) & (usual <= c.QUIET_MOST * mean), more, 0.0)
    leaked = np.zeros(hourly.shape)
    leaked[:, hourly.shape[1] - 24 * by_day.shape[1] :] = np.repeat(by_day, 24, axis=1)
    return leaked

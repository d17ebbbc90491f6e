"""How much less reservoirs give since plants were cut back, so that days before it can be brought to today's size."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c


class Smaller(NamedTuple):
    """To which `share` of what it was reservoirs' draw fell (R,), and for how many last `days`; 1 and 0 for none."""

    share: NDArray[np.float64]
    days: NDArray[np.int64]


def cut_back(hourly: NDArray[np.float64], days: NDArray[np.float64], dries: NDArray[np.float64]) -> Smaller:
    """Reservoirs whose plants were cut back within the last days (R, D): all that came after is less than all before.

    And their containers dry more slowly since, by `dries` (R, D): where a line was cut off they do not; and all hours
    of the day show it, by `hourly` (R, T): fewer hours of light take some away, and a can does. The newest day tells
    where it is less, too; a leak may make it more.
    """
    share, since = np.ones(len(days)), np.zeros(len(days), dtype=np.int64)
    width = min(days.shape[1], dries.shape[1])
    days, dries = days[:, days.shape[1] - width :], dries[:, dries.shape[1] - width :]
    by_hour = hourly[:, hourly.shape[1] - 24 * width :].reshape(len(hourly), width, 24)
    for count in range(2, width - 1):
        for until in (width, width - 1):
            early, late = slice(0, width - count), slice(width - count, until)
            if until - (width - count) < 2:
                continue
            told = (np.isfinite(days[:, early]).sum(axis=1) >= 2) & np.isfinite(days[:, late]).all(axis=1)
            with np.errstate(invalid="ignore", divide="ignore"):
                slower = nanmedian(dries[:, late]) / nanmedian(dries[:, early])
                fell = days[:, late].max(axis=1) < c.PRUNED_SHARE * np.fmin.reduce(days[:, early], axis=1)
            asked = np.flatnonzero(fell & told & (since == 0) & (slower < c.PRUNED_SLOWER))
            of_hours = _share_of_hours(by_hour[asked, early], by_hour[asked, late])
            with np.errstate(invalid="ignore"):
                cut = (of_hours >= c.PRUNED_LEAST) & (of_hours < c.PRUNED_SHARE)
            share[asked[cut]], since[asked[cut]] = of_hours[cut], count
    return Smaller(share, since)


def _share_of_hours(early: NDArray[np.float64], late: NDArray[np.float64]) -> NDArray[np.float64]:
    """What left in the late days (N, days, 24) as a share of the early ones, in half of the hours that tell (N,).

    NaN where in some of them next to nothing left.
    """
    before = nanmedian(np.swapaxes(early, 1, 2))
    with np.errstate(invalid="ignore", divide="ignore"):
        tells = before >= c.CUT_OFF_TELLS * np.fmax.reduce(before, axis=1, initial=0.0)[:, np.newaxis]
        share = np.where(tells[:, np.newaxis], late / before[:, np.newaxis], np.nan).reshape(
            len(late), 24 * late.shape[1]
        )
        stopped = (share < c.PRUNED_STOPS).sum(axis=1) > c.PRUNED_STOPPED * np.isfinite(share).sum(axis=1)
    return np.where(stopped, np.nan, nanmedian(share))

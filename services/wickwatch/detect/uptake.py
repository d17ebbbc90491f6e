"""How much faster than usual containers dry between two waterings, by reservoir and hour.

While an emitter is closed its container's tension rises as fast as the plant drinks. So where a reservoir's containers
dry faster than they usually do at these hours, their plants drink more: leaves have grown back, it is hot, lights burn
for longer. What leaves the reservoir beyond usual then, they take, and no leak; and where they dry more slowly, pruned
or in damp air, less leaves though no line is cut off. Not here: how much usually leaves it (`draws`).
"""

from __future__ import annotations

from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Floats
from wickwatch.detect import constants as c
from wickwatch.detect.clock import local_minutes, same_hours
from wickwatch.detect.frame import Frame
from wickwatch.detect.layout import NONE, Layout
from wickwatch.detect.signals import Signals
from wickwatch.detect.thirst import near_set_point
from wickwatch.detect.window import add_by, chunks, cut

#: Containers looked at at once: some 8 MB.
_CHUNK = 2048
_HOURS = 24 * (c.USUAL_DRAW_DAYS + 1) + c.WEATHER_HOURS


class Speeds(NamedTuple):
    """How fast each reservoir's containers dried, as shares of what is usual at these hours; NaN where too few tell.

    `hours` (R, WEATHER_HOURS): up to each of the last whole hours, over `UPTAKE_HOURS`; `days` (R, D): over each of the
    last days of 24 hours, the newest last.
    """

    hours: Floats
    days: Floats


def drying_speeds(frame: Frame, zone: ZoneInfo, place: Layout, signal: Signals) -> Speeds:
    """How fast each reservoir's containers dried of late."""
    times = frame.coarse.times[1:][-_HOURS:]
    risen, count = _risen(frame, place, signal, len(times))
    past = same_hours(zone, times)[:, 1 : 1 + c.USUAL_DRAW_DAYS]
    hour = local_minutes(zone, times) // 60
    before = [np.pad(each, ((0, 0), (0, 1)))[:, past].sum(axis=2) for each in (risen, count)]  # -1 is the padding
    with np.errstate(invalid="ignore", divide="ignore"):
        usual = np.where(before[1] >= c.UPTAKE_NEEDS, before[0] / before[1], np.nan)[:, hour]
        told = np.isfinite(usual)
        parts = [np.where(told, each, 0.0) for each in (risen, count * np.nan_to_num(usual), count)]
        hours, days = (_speed(*(sums(each) for each in parts)) for sums in (_windows, _by_day))
    return Speeds(hours[:, -c.WEATHER_HOURS :], days)


def _speed(now: Floats, expected: Floats, of: Floats) -> Floats:
    return np.where(of >= c.UPTAKE_NEEDS, now / expected, np.nan)


def own_speed(hourly: NDArray[np.float32], columns: NDArray[np.int64]) -> Floats:
    """How far containers of one line usually rise in each hour of the day without water [mbar/h], (N, 24).

    From hourly tension (N, T) and its columns by hour (24, D), the newest first; the last day is left out. An hour's
    share of the day is told by all together, how fast each dries by its own rises. NaN where none tell.
    """
    rise = np.diff(hourly, axis=1, prepend=np.nan)
    with np.errstate(invalid="ignore"):
        rises = np.where((rise > 0.0) & (rise <= c.UPTAKE_RISE_MBAR), rise, np.nan)
    padded = np.concatenate([rises, np.full((len(rises), 1), np.nan)], axis=1)
    past = padded[:, columns[:, 1 : 1 + c.USUAL_DRAW_DAYS]]  # (N, 24, D); -1 is the padding
    told = np.isfinite(past)
    of, total = told.sum(axis=(0, 2)), np.where(told, past, 0.0).sum(axis=(0, 2))
    with np.errstate(invalid="ignore", divide="ignore"):
        together = np.where(of >= c.UPTAKE_HOUR_NEEDS, total / of, np.nan)
        expected = np.where(told, together[:, np.newaxis], 0.0)
        own = np.where(told & np.isfinite(expected), past, 0.0).sum(axis=(1, 2)) / np.nansum(expected, axis=(1, 2))
    return np.asarray(own[:, np.newaxis] * together)


def _risen(frame: Frame, place: Layout, signal: Signals, hours: int) -> tuple[Floats, Floats]:
    """Mbar by which containers of each reservoir rose in each of the last hours, and how many did, (R, hours).

    Only those near their set points: wet ones rise more slowly, and dry ones faster, than their plants drink. No leaps.
    """
    shape = len(place.reservoirs), hours
    risen, count = np.zeros(shape), np.zeros(shape)
    which = np.flatnonzero(place.reservoir_of != NONE)
    which = which[np.argsort(place.reservoir_of[which], kind="stable")]
    low_mbar, dry_mbar = near_set_point(place), place.container_rules.of("dry_limit_mbar")
    for some in chunks(len(which), _CHUNK):
        part = which[some]
        hourly = cut(frame.coarse, signal.row[part], place.tension.since[part], hours + 1)
        rise = np.diff(hourly, axis=1)
        with np.errstate(invalid="ignore"):
            near = (hourly[:, :-1] >= low_mbar[part, np.newaxis]) & (hourly[:, 1:] <= dry_mbar[part, np.newaxis])
            dries = near & (rise > 0.0) & (rise <= c.UPTAKE_RISE_MBAR)
        reservoir = place.reservoir_of[part]
        add_by(risen, reservoir, np.where(dries, rise, 0.0))
        add_by(count, reservoir, dries.astype(np.float64))
    return risen, count


def _windows(values: Floats) -> Floats:
    """Sums over `UPTAKE_HOURS` columns up to each one, (R, T); over fewer at the beginning."""
    total = np.cumsum(np.pad(values, ((0, 0), (c.UPTAKE_HOURS, 0))), axis=1)
    sums = total[:, c.UPTAKE_HOURS :] - total[:, : -c.UPTAKE_HOURS]
    return np.asarray(sums)


def _by_day(values: Floats) -> Floats:
    """Sums over the last whole days of 24 hours (R, USUAL_DRAW_DAYS + 1), fewer where fewer are known."""
    days = min(values.shape[1] // 24, c.USUAL_DRAW_DAYS + 1)
    last = values[:, values.shape[1] - 24 * days :]
    return np.asarray(last.reshape(len(values), days, 24).sum(axis=2))

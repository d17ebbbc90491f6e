"""How much water leaves each reservoir, hour by hour, against what is usual at that hour of its day.

Level becomes volume by the tank's table; hours in which water rises are refills and cut out with their neighbours.
Usual is the median over past days at the same hour, with a robust spread, so that one bad day does not become usual.
Not here: what an unusual draw means (`reservoir_leak`, `sudden_wetting`, `supply_interrupted`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.air import vapour_pressure_deficit_kpa
from wickwatch.agronomy.robust import MAD_TO_SIGMA, mad_sigma
from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.clock import local_minutes, same_hours
from wickwatch.detect.frame import Frame
from wickwatch.detect.layout import NONE, Layout
from wickwatch.detect.levels import Levels
from wickwatch.detect.signals import Signals
from wickwatch.detect.window import cut
from wickwatch.fleet import Facility


@dataclass(frozen=True)
class UsualDraw:
    """What whole hours tell of R reservoirs.

    `usual_l_per_h` and `spread_l_per_h` (R, 24) by hour of the facility's day, NaN where fewer than `USUAL_DAYS` days
    tell. `weather` (R, WEATHER_HOURS): how much more than usual plants want in each of the last whole hours, the newest
    last, because the air is drier; 1 where nothing tells. `rise_l` (R,): the rise that is a refill.
    """

    usual_l_per_h: NDArray[np.float64]
    spread_l_per_h: NDArray[np.float64]
    weather: NDArray[np.float64]
    rise_l: NDArray[np.float64]


@dataclass(frozen=True)
class Draws(UsualDraw):
    """The same with `volume_l` (R, T) on the fine grid, and `noise_l` (R,): standard error of one bucket of it."""

    volume_l: NDArray[np.float64]
    noise_l: NDArray[np.float64]


def draws(place: Layout, usual: UsualDraw, levels: Levels) -> Draws:
    """Draws of all reservoirs now."""
    fine = place.tanks.litres(levels.series_mm)
    return Draws(**vars(usual), volume_l=fine, noise_l=_noise(fine))


def usual_draw(frame: Frame, facility: Facility, place: Layout, signal: Signals) -> UsualDraw:
    """What is usual, by the hourly grid alone."""
    coarse = cut(frame.coarse, signal.row, place.level.since).astype(np.float64) + place.zero_mm[:, np.newaxis]
    rise = _litres_of_rise(place)
    hourly = _outflow(place.tanks.litres(coarse), rise)
    low, high = (cut(frame.coarse, signal.row, place.level.since, None, which) for which in ("low", "high"))
    with np.errstate(invalid="ignore"):
        still = high - low <= c.SAME_MBAR
    # A sensor that stands quite still for hours tells nothing of the draw.
    hourly[still[:, 1:] & still[:, :-1]] = np.nan
    usual, spread = _usual(hourly, same_hours(facility.zone, frame.coarse.times[1:]))
    return UsualDraw(usual, spread, _weather(frame, facility, place), rise)


def _noise(volume_l: NDArray[np.float64]) -> NDArray[np.float64]:
    """Standard error of one bucket, from steps between neighbours; seldom readings have theirs some buckets apart."""
    nearest = np.full(len(volume_l), np.nan)
    for lag in (1, 2, 3):
        left = np.flatnonzero(np.isnan(nearest))
        nearest[left] = nanmedian(np.abs(volume_l[left, lag:] - volume_l[left, :-lag]))
    return np.asarray(MAD_TO_SIGMA * nearest / np.sqrt(2.0))


def _litres_of_rise(place: Layout) -> NDArray[np.float64]:
    """Volume of the rise that is a refill, at mid-height of each tank."""
    middle = 0.5 * (place.tanks.low_mm + place.tanks.high_mm)
    return place.tanks.litres(middle + c.LEVEL_RISE_MM) - place.tanks.litres(middle)


def _outflow(volume_l: NDArray[np.float64], rise_l: NDArray[np.float64]) -> NDArray[np.float64]:
    """Litres gone between the middles of neighbouring hours, NaN where a refill is seen in them or the next pair."""
    gone = -np.diff(volume_l, axis=1)
    with np.errstate(invalid="ignore"):
        filled = gone < -rise_l[:, np.newaxis]
    near = filled.copy()
    near[:, 1:] |= filled[:, :-1]
    near[:, :-1] |= filled[:, 1:]
    return np.where(near, np.nan, gone)


def _weather(frame: Frame, facility: Facility, place: Layout) -> NDArray[np.float64]:
    """How much more than usual plants want in the last hours because the air is drier, (R, WEATHER_HOURS)."""
    rows = [[NONE if each is None else each.id for each in (room.temperature, room.humidity)] for room in place.rooms]
    row = frame.rows(np.array(rows, dtype=np.int64).reshape(-1, 2))
    never = np.full(len(row), np.datetime64("NaT", "us"))
    degc, rh = (cut(frame.coarse, row[:, n], never).astype(np.float64) for n in (0, 1))
    deficit = vapour_pressure_deficit_kpa(degc, np.clip(rh, 0.0, 100.0))
    times = frame.coarse.times
    usual, _ = _usual(deficit, same_hours(facility.zone, times))
    hour = local_minutes(facility.zone, times[-c.WEATHER_HOURS :]) // 60
    with np.errstate(invalid="ignore", divide="ignore"):
        drier = np.clip(deficit[:, -c.WEATHER_HOURS :] / usual[:, hour], 1.0, c.DRIER_AIR_MOST)
    more = 1.0 + c.DEFICIT_SHARE * (np.where(np.isfinite(drier), drier, 1.0) - 1.0)
    return np.asarray(more[place.reservoir_room])


def _usual(hourly: NDArray[np.float64], columns: NDArray[np.int64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Median and robust spread of each hour of the day over the last days but the newest one.

    Hours of which those days do not tell enough, a refill every morning, take all days.
    """
    padded = np.concatenate([hourly, np.full((len(hourly), 1), np.nan)], axis=1)
    past = padded[:, columns[:, 1:]]  # (R, 24, D); -1 is the padding
    enough = np.isfinite(past[..., : c.USUAL_DRAW_DAYS]).sum(axis=-1) >= c.USUAL_DAYS
    past[..., c.USUAL_DRAW_DAYS :] = np.where(enough[..., np.newaxis], np.nan, past[..., c.USUAL_DRAW_DAYS :])
    median = nanmedian(past)
    spread = mad_sigma(past)
    # An hour's own few days tell little about its spread: its neighbours' and the day's tell more.
    around = nanmedian(np.stack([np.roll(spread, by, axis=1) for by in (-1, 0, 1)], axis=-1))
    pooled = np.fmax(around, nanmedian(spread)[:, np.newaxis])
    few = np.isfinite(past).sum(axis=-1) < c.USUAL_DAYS
    return np.where(few, np.nan, median), np.where(few, np.nan, pooled)

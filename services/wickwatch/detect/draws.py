"""How much water leaves each reservoir, hour by hour, against what is usual at that hour of its day.

Level becomes volume by the tank's table; hours in which water rises are refills and cut out with their neighbours.
Hours in which many containers were in drought, or most too wet to draw, tell nothing of what is usual, and what leaked
on past days is taken out (`past_leaks`). Not here: what is usual by the hours that tell (`usual_hours`), nor what an
unusual draw means (`reservoir_leak`, `sudden_wetting`, `supply_interrupted`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.air import vapour_pressure_deficit_kpa
from wickwatch.agronomy.robust import MAD_TO_SIGMA
from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.clock import DAY_MIN, local_minutes, same_hours, since_lights_on
from wickwatch.detect.frame import Frame
from wickwatch.detect.layout import NONE, Layout
from wickwatch.detect.levels import Levels
from wickwatch.detect.lights import unusual_light
from wickwatch.detect.past_leaks import leaked_on_days, least_of_days
from wickwatch.detect.signals import Signals
from wickwatch.detect.thirst import thirst
from wickwatch.detect.uptake import drying_speeds
from wickwatch.detect.usual_hours import median_and_spread, usual_hours
from wickwatch.detect.window import cut
from wickwatch.fleet import Facility


@dataclass(frozen=True)
class UsualDraw:
    """What whole hours tell of R reservoirs.

    `usual_l_per_h` and `spread_l_per_h` (R, 24) by hour of the facility's day, NaN where fewer than `USUAL_DAYS` days
    tell. `weather` (R, WEATHER_HOURS): how many times as much as usual plants want in each of the last whole hours, the
    newest last, because the air is drier, or seen by how fast their containers dry (`uptake`); 1 where nothing tells.
    `light_l_per_h` (R, WEATHER_HOURS): what they want then at least because lights burned that usually do not, 0
    elsewhere. `wet` (R, WEATHER_HOURS): the share of their containers that was too wet to draw then (`thirst`).
    `days_differ` (R,): how much whole days of late differ from usual ones, a standard deviation as a share, of those
    that tell what is usual; `all_days_differ` (R,): of all, those on which a line was cut off, too. `rise_l` (R,): the
    rise that is a refill. `least_l_per_h` (R, D): what left in the quiet hours of each of the last days of 24 hours,
    the newest last, NaN where too few tell.
    """

    usual_l_per_h: NDArray[np.float64]
    spread_l_per_h: NDArray[np.float64]
    weather: NDArray[np.float64]
    light_l_per_h: NDArray[np.float64]
    wet: NDArray[np.float64]
    days_differ: NDArray[np.float64]
    all_days_differ: NDArray[np.float64]
    rise_l: NDArray[np.float64]
    least_l_per_h: NDArray[np.float64]


@dataclass(frozen=True)
class Draws(UsualDraw):
    """The same with `volume_l` (R, T) on the fine grid, and `noise_l` (R,): standard error of one bucket of it."""

    volume_l: NDArray[np.float64]
    noise_l: NDArray[np.float64]


def draws(place: Layout, usual: UsualDraw, levels: Levels) -> Draws:
    """Draws of all reservoirs now."""
    fine = place.tanks.litres(levels.series_mm)
    return Draws(**vars(usual), volume_l=fine, noise_l=_noise(fine))


def usual_draw(frame: Frame, facility: Facility, place: Layout, level: Signals, tension: Signals) -> UsualDraw:
    """What is usual, by the hourly grid alone."""
    coarse = cut(frame.coarse, level.row, place.level.since).astype(np.float64) + place.zero_mm[:, np.newaxis]
    rise = _litres_of(place, c.LEVEL_RISE_MM)
    hourly = _outflow(place.tanks.litres(coarse), rise)
    low, high = (cut(frame.coarse, level.row, place.level.since, None, which) for which in ("low", "high"))
    with np.errstate(invalid="ignore"):
        still = high - low <= c.SAME_MBAR
    hourly[_stuck(hourly, still, place)] = np.nan
    least = least_of_days(hourly)
    hourly = hourly - leaked_on_days(hourly, least)
    wet, starved = thirst(frame, place, tension)
    untold = (wet > 0.0) | starved
    dries = drying_speeds(frame, facility.zone, place, tension)
    known = usual_hours(
        np.where(untold[:, 1:], np.nan, hourly), same_hours(facility.zone, frame.coarse.times[1:]), dries.days
    )
    # After many wet days only days of long ago would tell: plants have grown since.
    known.usual_l_per_h[(wet[:, -24 * (c.USUAL_DRAW_DAYS + 1) :] > 0.0).sum(axis=1) > c.WET_HOURS_MOST] = np.nan
    drier, unusual = _air(frame, facility, place)
    room = place.reservoir_room
    speed = np.clip(dries.hours, c.UPTAKE_LEAST, c.DRIER_AIR_MOST)
    weather = np.where(speed < c.UPTAKE_SLOW, drier[room] * speed / c.UPTAKE_SLOW, np.fmax(drier[room], speed))
    light = np.where(unusual[room], _by_light(known.usual_l_per_h, place)[:, np.newaxis], 0.0)
    return UsualDraw(
        **known._asdict(),
        weather=weather,
        light_l_per_h=light,
        wet=wet[:, -c.WEATHER_HOURS :],
        rise_l=rise,
        least_l_per_h=least,
    )


def _noise(volume_l: NDArray[np.float64]) -> NDArray[np.float64]:
    """Standard error of one bucket, from steps between neighbours; seldom readings have theirs some buckets apart."""
    nearest = np.full(len(volume_l), np.nan)
    for lag in (1, 2, 3):
        left = np.flatnonzero(np.isnan(nearest))
        nearest[left] = nanmedian(np.abs(volume_l[left, lag:] - volume_l[left, :-lag]))
    return np.asarray(MAD_TO_SIGMA * nearest / np.sqrt(2.0))


def _litres_of(place: Layout, mm: float) -> NDArray[np.float64]:
    """Volume of so many millimetres at mid-height of each tank (R,)."""
    middle = 0.5 * (place.tanks.low_mm + place.tanks.high_mm)
    return place.tanks.litres(middle + mm) - place.tanks.litres(middle)


def _outflow(volume_l: NDArray[np.float64], rise_l: NDArray[np.float64]) -> NDArray[np.float64]:
    """Litres gone between the middles of neighbouring hours, NaN where a refill is seen in them or the next pair."""
    gone = -np.diff(volume_l, axis=1)
    with np.errstate(invalid="ignore"):
        filled = gone < -rise_l[:, np.newaxis]
    near = filled.copy()
    near[:, 1:] |= filled[:, :-1]
    near[:, :-1] |= filled[:, 1:]
    return np.where(near, np.nan, gone)


def _stuck(hourly: NDArray[np.float64], still: NDArray[np.bool_], place: Layout) -> NDArray[np.bool_]:
    """Pairs of hours (R, T - 1) that tell nothing of the draw: the sensor stood quite `still` (R, T) in both.

    So do the next two, where it came loose with a leap: by `hourly` what left in days seems to leave within an hour.
    """
    stood = still[:, 1:] & still[:, :-1]
    gone = np.nan_to_num(hourly)
    gone[:, :-1] += np.nan_to_num(hourly[:, 1:])
    loose = gone > _litres_of(place, c.LEVEL_JUMP_MM)[:, np.newaxis]
    loose[:, 1:] &= stood[:, :-1] & ~stood[:, 1:]
    loose[:, 0] = False
    loose[:, 1:] |= loose[:, :-1]
    return stood | loose


def _air(frame: Frame, facility: Facility, place: Layout) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """What rooms' air tells of the last hours, (rooms, WEATHER_HOURS): how much more than usual plants want because it
    is drier, and where lights burned that usually do not.
    """
    rows = [[NONE if each is None else each.id for each in (room.temperature, room.humidity)] for room in place.rooms]
    row = frame.rows(np.array(rows, dtype=np.int64).reshape(-1, 2))
    never = np.full(len(row), np.datetime64("NaT", "us"))
    degc, rh = (cut(frame.coarse, row[:, n], never).astype(np.float64) for n in (0, 1))
    deficit = vapour_pressure_deficit_kpa(degc, np.clip(rh, 0.0, 100.0))
    times = frame.coarse.times
    columns = same_hours(facility.zone, times)
    usual = median_and_spread(deficit, columns)[0]
    hour = local_minutes(facility.zone, times[-c.WEATHER_HOURS :]) // 60
    with np.errstate(invalid="ignore", divide="ignore"):
        drier = np.clip(deficit[:, -c.WEATHER_HOURS :] / usual[:, hour], 1.0, c.DRIER_AIR_MOST)
    more = 1.0 + c.DEFICIT_SHARE * (np.where(np.isfinite(drier), drier, 1.0) - 1.0)
    since_on = since_lights_on(facility.zone, times + frame.coarse.step / 2, place.lights_on_min)
    planned = since_on < place.lights_min[:, np.newaxis]
    return np.asarray(more), unusual_light(degc, planned, hour, columns)


def _by_light(usual: NDArray[np.float64], place: Layout) -> NDArray[np.float64]:
    """Mean of what is usual in hours planned lit (R,), 0 where none is known."""
    room = place.reservoir_room
    middle = (np.arange(24) * 60 + 30 - place.lights_on_min[room, np.newaxis]) % DAY_MIN
    told = (middle < place.lights_min[room, np.newaxis]) & np.isfinite(usual)
    return np.asarray(np.where(told, usual, 0.0).sum(axis=1) / np.maximum(told.sum(axis=1), 1))

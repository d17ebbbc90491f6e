"""How much water leaves each reservoir, hour by hour, against what is usual at that hour of its day.

Level becomes volume by the tank's table; hours in which water rises are refills and cut out with their neighbours.
Usual is the median over past days at the same hour, with a robust spread, so that one bad day does not become usual.
Half days in which a line was cut off do not tell of it, nor hours in which many containers were in drought or most too
wet to draw. Days of young plants, and those before plants were cut back, are brought to today's size, and what
leaked on some of them is taken out.
Not here: what an unusual draw means (`reservoir_leak`, `sudden_wetting`, `supply_interrupted`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.air import vapour_pressure_deficit_kpa
from wickwatch.agronomy.robust import MAD_TO_SIGMA, mad_sigma
from wickwatch.agronomy.trend import nanmedian, theil_sen
from wickwatch.detect import constants as c
from wickwatch.detect.clock import DAY_MIN, local_minutes, same_hours, since_lights_on
from wickwatch.detect.frame import Frame
from wickwatch.detect.layout import NONE, Layout
from wickwatch.detect.levels import Levels
from wickwatch.detect.lights import unusual_light
from wickwatch.detect.signals import Signals
from wickwatch.detect.thirst import thirst
from wickwatch.detect.uptake import drying_speeds
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
    `days_differ` (R,): how much whole days of late differ from usual ones, a standard deviation as a share. `rise_l`
    (R,): the rise that is a refill. `least_l_per_h` (R, D): what left in the quiet hours of each of the last days of 24
    hours, the newest last, NaN where too few tell.
    """

    usual_l_per_h: NDArray[np.float64]
    spread_l_per_h: NDArray[np.float64]
    weather: NDArray[np.float64]
    light_l_per_h: NDArray[np.float64]
    wet: NDArray[np.float64]
    days_differ: NDArray[np.float64]
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
    rise = _litres_of_rise(place)
    hourly = _outflow(place.tanks.litres(coarse), rise)
    low, high = (cut(frame.coarse, level.row, place.level.since, None, which) for which in ("low", "high"))
    with np.errstate(invalid="ignore"):
        still = high - low <= c.SAME_MBAR
    # A sensor that stands quite still for hours tells nothing of the draw.
    hourly[still[:, 1:] & still[:, :-1]] = np.nan
    least = _least(hourly)
    hourly = hourly - _leaked(hourly, least)
    wet, starved = thirst(frame, place, tension)
    untold = (wet > 0.0) | starved
    dries = drying_speeds(frame, facility.zone, place, tension)
    usual, spread, differ = _usual(
        np.where(untold[:, 1:], np.nan, hourly), same_hours(facility.zone, frame.coarse.times[1:]), dries.days
    )
    # After many wet days only days of long ago would tell: plants have grown since.
    usual[(wet[:, -24 * (c.USUAL_DRAW_DAYS + 1) :] > 0.0).sum(axis=1) > c.WET_HOURS_MOST] = np.nan
    drier, unusual = _air(frame, facility, place)
    room = place.reservoir_room
    speed = np.clip(dries.hours, c.UPTAKE_LEAST, c.DRIER_AIR_MOST)
    weather = np.where(speed < c.UPTAKE_SLOW, drier[room] * speed / c.UPTAKE_SLOW, np.fmax(drier[room], speed))
    light = np.where(unusual[room], _by_light(usual, place)[:, np.newaxis], 0.0)
    return UsualDraw(usual, spread, weather, light, wet[:, -c.WEATHER_HOURS :], differ, rise, least)


def _least(hourly: NDArray[np.float64]) -> NDArray[np.float64]:
    """What left in the quietest hours (R, T), a share of `QUIET_HOURS` of them, of each of the last days (R, D)."""
    days = min(c.QUIET_DAYS, hourly.shape[1] // 24)
    blocks = hourly[:, hourly.shape[1] - 24 * days :].reshape(len(hourly), days, 24)
    ordered, known = np.sort(blocks, axis=2), np.isfinite(blocks).sum(axis=2)  # NaN last
    place = (c.QUIET_HOURS * known).astype(np.int64)[:, :, np.newaxis]
    least = np.take_along_axis(ordered, place, axis=2)[:, :, 0]
    return np.where(known >= c.QUIET_KNOWN_H, least, np.nan)


def _leaked(hourly: NDArray[np.float64], least: NDArray[np.float64]) -> NDArray[np.float64]:
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
    usual = _median_and_spread(deficit, columns)[0]
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


def _usual(
    hourly: NDArray[np.float64], columns: NDArray[np.int64], dries: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Median and robust spread of each hour of the day over the last days but the newest one, at today's size; and by
    how much whole days differ. `dries` (R, D): how fast containers dried in the last days (`uptake`).
    """
    hour = np.zeros(hourly.shape[1], dtype=np.int64)
    for each, places in enumerate(columns):
        hour[places[places >= 0]] = each
    expected = _median_and_spread(hourly, columns)[0][:, hour]
    smaller = _cut_back(hourly, _days(hourly, expected), dries)
    pruned = np.flatnonzero(smaller.share < 1.0)
    if len(pruned):
        before = np.arange(hourly.shape[1]) < (hourly.shape[1] - 24 * smaller.days[pruned])[:, np.newaxis]
        hourly = hourly.copy()
        hourly[pruned] *= np.where(before, smaller.share[pruned, np.newaxis], 1.0)
        expected[pruned] = _median_and_spread(hourly[pruned], columns)[0][:, hour]
    told = np.where(_cut_off(hourly, expected), np.nan, hourly)
    # The newest day is what is judged: a leak in it is no growth.
    _, surely = _growth(_days(told, expected)[:, :-1])
    usual, spread = _median_and_spread(told, columns, surely)
    # A sensor that stood still or was silent for days leaves a usual draw of long ago: plants have grown since.
    late = np.isfinite(hourly[:, -24 * (c.USUAL_DRAW_DAYS + 1) :]).sum(axis=1)
    full = np.isfinite(hourly).sum(axis=1) >= 24 * (c.USUAL_DRAW_DAYS + 1)
    usual[full & (late < 12 * c.USUAL_DRAW_DAYS)] = np.nan
    return usual, spread, _differ(_days(hourly, expected)[:, :-1])


class _Smaller(NamedTuple):
    """To which `share` of what it was reservoirs' draw fell (R,), and for how many last `days`; 1 and 0 for none."""

    share: NDArray[np.float64]
    days: NDArray[np.int64]


def _cut_back(hourly: NDArray[np.float64], days: NDArray[np.float64], dries: NDArray[np.float64]) -> _Smaller:
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
    return _Smaller(share, since)


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
    with np.errstate(invalid="ignore", divide="ignore"):
        apart = np.nan_to_num(mad_sigma(today) / nanmedian(today), posinf=0.0)
    return np.asarray(np.hypot(apart, (grows - surely) * 0.5 * (days.shape[1] + 1)))


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


def _median_and_spread(
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

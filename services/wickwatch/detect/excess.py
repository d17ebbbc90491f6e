"""What leaves reservoirs beyond what is usual at these hours, and whether it can be chance.

Serves everything that asks where water goes: a leak, an emitter stuck open, a forecast that must not trust yesterday.
Not here: whose water it is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.segments import carried_on
from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.clock import local_minutes
from wickwatch.detect.frame import FINE_PER_H
from wickwatch.detect.sight import Sight


@dataclass(frozen=True)
class Excess:
    """N reservoirs over their own number of hours up to now, or as many as lie after a refill; all (N,), NaN unknown.

    `hours` looked at; `drawn_l` gone in them, `usual_l` expected; `l_per_h` the difference per hour; `sigma_l` its
    standard error; `significant` where it is beyond chance.
    """

    hours: NDArray[np.float64]
    drawn_l: NDArray[np.float64]
    usual_l: NDArray[np.float64]
    l_per_h: NDArray[np.float64]
    sigma_l: NDArray[np.float64]
    significant: NDArray[np.bool_]


def excess(
    sight: Sight,
    which: NDArray[np.int64],
    hours: float | NDArray[np.float64],
    until_h: float | NDArray[np.float64] = 0.0,
    least_weather: float = 1.0,
) -> Excess:
    """Draw of the given reservoirs over `hours` up to `until_h` hours ago, against usual.

    Both are one number or (N,), and all must lie within the last two days. Who looks for water that is missing lets
    plants that drink less than usual count, down to `least_weather`; who looks for water that leaves does not.
    """
    draws, fine = sight.draws, sight.frame.fine
    width = fine.mean.shape[1]
    steps = np.broadcast_to(np.round(np.asarray(hours) * FINE_PER_H).astype(np.int64), which.shape)
    back = np.broadcast_to(np.round(np.asarray(until_h) * FINE_PER_H).astype(np.int64), which.shape)
    longest = min(int(steps.max(initial=1)) + c.ENDS_STEPS, width)
    column = np.arange(longest) - longest  # -1 is the last one looked at
    at = (width - back)[:, np.newaxis] + column
    volume = draws.volume_l[which[:, np.newaxis], np.maximum(at, 0)]
    volume[at < 0] = np.nan
    began = np.maximum(-steps - c.ENDS_STEPS, _after_refill(volume, draws.rise_l[which]))
    inside = column >= began[:, np.newaxis]
    head = nanmedian(np.where(inside & (column < (began + c.ENDS_STEPS)[:, np.newaxis]), volume, np.nan))
    tail = nanmedian(np.where(inside & (column >= -c.ENDS_STEPS), volume, np.nan))
    span_h = np.maximum(-began - c.ENDS_STEPS, 0) / FINE_PER_H
    usual, variance = _usual(sight, which, fine.start + fine.step * (width - back), span_h, least_weather)
    drawn = head - tail
    sigma = np.sqrt(2.0 * draws.noise_l[which] ** 2 / c.ENDS_STEPS + variance)
    with np.errstate(invalid="ignore", divide="ignore"):
        rate = np.where(span_h > 0, (drawn - usual) / span_h, np.nan)
        significant = (drawn - usual > c.EXCESS_SIGMAS * sigma) & (rate > c.EXCESS_SHARE * usual / span_h)
        significant &= rate >= c.EXCESS_LEAST_L_PER_H
    return Excess(span_h, drawn, usual, rate, sigma, np.asarray(significant))


def usual_share(before: Excess) -> NDArray[np.float64]:
    """How much of their usual draw reservoirs gave (N,): 1 but where it was less beyond chance.

    The containers of a room that was watered by hand take nothing for a day: what they would take is not missing.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        quiet = before.usual_l - before.drawn_l > c.EXCESS_SIGMAS * before.sigma_l
        return np.where(quiet, np.clip(before.drawn_l / before.usual_l, 0.0, 1.0), 1.0)


def against_share(seen: Excess, share: NDArray[np.float64]) -> Excess:
    """The same draw against a share (N,) of the usual one; what is `significant` stays as it was."""
    with np.errstate(invalid="ignore", divide="ignore"):
        rate = np.where(share < 1.0, (seen.drawn_l - share * seen.usual_l) / seen.hours, seen.l_per_h)
    return replace(seen, usual_l=share * seen.usual_l, l_per_h=rate)


def _after_refill(volume: NDArray[np.float64], rise_l: NDArray[np.float64]) -> NDArray[np.int64]:
    """First column (-1 is the last) after the last rise that is a refill; the first one where there is none."""
    width, held = volume.shape[1], carried_on(volume)
    span = min(c.REFILL_STEPS, width - 1)
    with np.errstate(invalid="ignore"):
        rose = held[:, span:] - held[:, :-span] > rise_l[:, np.newaxis]
    # A rise over the span that ends at a column: what comes after it is quiet.
    last = width - 1 - np.argmax(rose[:, ::-1], axis=1)
    return np.asarray(np.where(rose.any(axis=1), last - width, -width))


def _usual(
    sight: Sight,
    which: NDArray[np.int64],
    end: NDArray[np.datetime64],
    span_h: NDArray[np.float64],
    least_weather: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Litres usual in the `span_h` hours up to `end` (both (N,)), and the variance of such a sum."""
    draws, coarse = sight.draws, sight.frame.coarse
    coarse_end = coarse.start + coarse.mean.shape[1] * coarse.step
    back = np.arange(int(np.ceil(span_h.max(initial=0.0))) + 1)
    middle = (back * 3600 + 1800).astype("timedelta64[s]")  # of each hour back
    ends, place = np.unique(end, return_inverse=True)
    moments, where = np.unique(ends[:, np.newaxis] - middle, return_inverse=True)
    hour = (local_minutes(sight.facility.zone, moments) // 60)[where.reshape(len(ends), len(back))]
    hour = hour[place.reshape(-1)]
    share = np.clip(span_h[:, np.newaxis] - back, 0.0, 1.0)
    # Whole hours before the grid's end; the one that runs is taken as the last whole one.
    ago = np.ceil((coarse_end - end[:, np.newaxis] + middle) / np.timedelta64(1, "h")).astype(np.int64)
    then = which[:, np.newaxis], -np.clip(ago, 1, draws.weather.shape[1])
    weather = np.fmax(draws.weather[then], least_weather)
    usual = draws.usual_l_per_h[which[:, np.newaxis], hour] * weather
    # In light that is not usual plants drink as by day, and what is usual at that hour tells nothing.
    lit = np.maximum(usual, draws.light_l_per_h[then])
    spread = draws.spread_l_per_h[which[:, np.newaxis], hour] * weather + c.LIGHT_SPREAD * (lit - usual)
    # Of wet containers none draws, also where nobody knows what they usually do.
    may = 1.0 - draws.wet[then]
    usual, spread = (np.where(may > 0.0, may * each, 0.0) for each in (lit, spread))
    # Whose water is whose is known roughly, and the same way for all hours; where all are wet it does not matter.
    mixed = np.minimum(may, 1.0 - may)
    rough = c.WET_SPREAD * np.where((share > 0) & (mixed > 0.0), share * mixed * lit, 0.0).sum(axis=1)
    total = np.where(share > 0, share * usual, 0.0).sum(axis=1)
    # Hours of one day are off together (a hot day), so their spreads add up rather than cancel.
    together = np.where(share > 0, share * spread, 0.0).sum(axis=1)
    apart = np.where(share > 0, share * spread**2, 0.0).sum(axis=1)
    # Where whole days differ, after a line was cut off for one, no day is usual.
    days = draws.days_differ[which] * total
    return total, c.HOURS_ALIKE * together**2 + (1.0 - c.HOURS_ALIKE) * apart + days**2 + rough**2

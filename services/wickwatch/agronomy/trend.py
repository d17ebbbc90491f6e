"""Whether many series drift, and how fast, without assuming any distribution.

Here: the Mann-Kendall test [1, 2] and the Theil-Sen slope with Sen's interval [3], over a whole matrix of
series at once, plain or within seasons [4]. Not here: sudden changes (`change`) and straight lines through
long, dense series (`regression`). Both statistics look at pairs of readings, so that time grows with the square
of a series' length: they are meant for tens of points per series (days, or the same hour day by day), which
also keeps readings apart enough for the independence they assume; readings a minute apart would make every
drift look certain.

`values` has shape (..., n), the last axis in time order; NaN is a missing reading. Results have shape (...).

1. Mann 1945, Econometrica 13:245. Kendall 1975, Rank Correlation Methods: variance with ties.
2. Gilbert 1987, Statistical Methods for Environmental Pollution Monitoring, sect. 16.4: exact for small
samples. 3. Sen 1968, J. Am. Stat. Assoc. 63:1379, eq. 2.6. 4. Hirsch, Slack and Smith 1982, Water Resour.
Res. 18:107: pairs within the same season only.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from math import prod

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri

from wickwatch.agronomy.arrays import Bools, Floats, Ints, floats, within
from wickwatch.errors import InputError

# Without ties and up to this many readings p is exact; beyond it the normal approximation is good (Gilbert
# 1987).
EXACT_UP_TO = 10

# Pairs looked at in one go: 2 million doubles are 16 MB, which stays near the processor.
_PAIRS_AT_ONCE = 2_000_000


@dataclass(frozen=True)
class MannKendall:
    """Result of the test, one per series.

    `s` rising pairs less falling ones; `variance` of s without a trend, corrected for ties; `z` = (s -/+ 1)
    over its root; `p_two_sided` probability of an s at least this far from 0 without a trend; `p_rising` of
    one at least this high; `count` readings. With fewer than two readings z and p are NaN.
    """

    s: Floats
    variance: Floats
    z: Floats
    p_two_sided: Floats
    p_rising: Floats
    count: Ints


@dataclass(frozen=True)
class TheilSen:
    """Slope of each series per unit of time, its interval, and the intercept at time 0 of the `times` given.

    The intercept is median(value) - slope * median(time) (Conover's), over the readings that are there. NaN
    with fewer than two readings.
    """

    slope: Floats
    low: Floats
    high: Floats
    intercept: Floats
    count: Ints


def mann_kendall(values: ArrayLike, seasons: ArrayLike | None = None) -> MannKendall:
    """Return the Mann-Kendall test of each series.

    `seasons` (n) labels columns; given, only readings of the same label are compared (an hour of the
    photoperiod is its own season) and p is by the normal approximation.
    """
    series, lead = _rows(values)
    label = _seasons(seasons, series.shape[-1])
    first, second = _pairs(label)
    s = np.empty(len(series))
    for part in _chunks(len(series), len(first)):
        chunk = series[part]
        before, after = chunk[:, first], chunk[:, second]
        s[part] = np.count_nonzero(after > before, axis=-1) - np.count_nonzero(after < before, axis=-1)
    tied, variance = _variance(series, label)
    count = np.count_nonzero(~np.isnan(series), axis=-1)

    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.sqrt(variance)
        z = np.where(s == 0.0, 0.0, (s - np.sign(s)) / root)
        p_rising = ndtr((1.0 - s) / root)
    p_two_sided = 2.0 * ndtr(-np.abs(z))
    if seasons is None:
        for size in range(2, EXACT_UP_TO + 1):
            exact = (count == size) & ~tied
            p_rising[exact] = _exact_p(size)[_rank(s[exact], size)]
            p_two_sided[exact] = np.minimum(2.0 * _exact_p(size)[_rank(np.abs(s[exact]), size)], 1.0)
    for result in (z, p_rising, p_two_sided):
        result[count < 2] = np.nan
    return MannKendall(
        s=s.reshape(lead),
        variance=variance.reshape(lead),
        z=z.reshape(lead),
        p_two_sided=p_two_sided.reshape(lead),
        p_rising=p_rising.reshape(lead),
        count=count.reshape(lead),
    )


def theil_sen(
    values: ArrayLike, times: ArrayLike, seasons: ArrayLike | None = None, confidence: float = 0.95
) -> TheilSen:
    """Return the median of all pairs' slopes of each series, with Sen's interval.

    `times` is (n) for all series or (..., n), rising along each series, in any unit: slopes are per that
    unit. `seasons` (n) restricts pairs to columns of the same label. Raises InputError if times do not rise.
    """
    series, lead = _rows(values)
    moment = _times(times, series, lead)
    label = _seasons(seasons, series.shape[-1])
    first, second = _pairs(label)
    quantile = float(ndtri(0.5 + float(within("confidence", confidence, 0.0, 1.0)) / 2.0))
    spread = quantile * np.sqrt(_variance(series, label)[1])
    slope, low, high = (np.full(len(series), np.nan) for _ in range(3))
    for part in _chunks(len(series), len(first)):
        chunk, at = series[part], moment if len(moment) == 1 else moment[part]
        # NaN sorts last, so that the slopes there are come first and their count says where the median is.
        slopes = np.sort((chunk[:, second] - chunk[:, first]) / (at[:, second] - at[:, first]), axis=-1)
        number = np.count_nonzero(~np.isnan(slopes), axis=-1)
        slope[part] = _median_of_sorted(slopes, number)
        low[part] = _pick(slopes, number, np.round((number - spread[part]) / 2.0) - 1.0)
        high[part] = _pick(slopes, number, np.round((number + spread[part]) / 2.0))
    present = np.where(np.isnan(series), np.nan, np.broadcast_to(moment, series.shape))
    intercept = nanmedian(series) - slope * nanmedian(present)
    count = np.count_nonzero(~np.isnan(series), axis=-1)
    return TheilSen(
        slope=slope.reshape(lead),
        low=low.reshape(lead),
        high=high.reshape(lead),
        intercept=intercept.reshape(lead),
        count=count.reshape(lead),
    )


def nanmedian(values: ArrayLike) -> Floats:
    """Return the median over the last axis without NaN, NaN where nothing is left; numpy's own is far slower."""
    ordered = np.sort(floats(values), axis=-1)
    return _median_of_sorted(ordered, np.count_nonzero(~np.isnan(ordered), axis=-1))


def _rows(values: ArrayLike) -> tuple[Floats, tuple[int, ...]]:
    array = floats(values)
    if array.ndim == 0:
        raise InputError("values", array.item(), "a series, or series in rows")
    *lead, length = array.shape
    return array.reshape(prod(lead), length), tuple(lead)


def _times(times: ArrayLike, series: Floats, lead: tuple[int, ...]) -> Floats:
    moment: Floats = np.atleast_2d(floats(times))
    length = series.shape[1]
    if moment.shape[-1] != length:
        raise InputError("times", moment.shape[-1], f"one for each of {length} readings")
    if moment.size > length:
        moment = np.broadcast_to(moment, (*lead, length)).reshape(series.shape)
    if not (np.diff(moment, axis=-1) > 0.0).all():
        raise InputError("times", times, "rising along each series, none missing")
    return moment


def _seasons(seasons: ArrayLike | None, length: int) -> Ints:
    if seasons is None:
        return np.zeros(length, dtype=np.int64)
    label: Ints = np.unique(np.asarray(seasons), return_inverse=True)[1].reshape(-1)
    if len(label) != length:
        raise InputError("seasons", len(label), f"one label for each of {length} readings")
    return label


def _pairs(label: Ints) -> tuple[Ints, Ints]:
    first, second = np.triu_indices(len(label), k=1)
    same = label[first] == label[second]
    return first[same], second[same]


def _chunks(rows: int, pairs: int) -> Iterator[slice]:
    step = max(1, _PAIRS_AT_ONCE // max(pairs, 1))
    return (slice(start, start + step) for start in range(0, rows, step))


def _variance(series: Floats, label: Ints) -> tuple[Bools, Floats]:
    """Return which series hold ties, and the variance of S summed over seasons.

    A tie of t readings takes t(t-1)(2t+5) off; summed over its own t readings that is (t-1)(2t+5) each.
    """
    same = label[:, None] == label[None, :]
    per_season = (~np.isnan(series)).astype(np.float64) @ np.eye(label.max(initial=0) + 1)[label]
    full = np.sum(per_season * (per_season - 1.0) * (2.0 * per_season + 5.0), axis=-1)
    ties = np.empty(len(series))
    for part in _chunks(len(series), same.size):
        chunk = series[part]
        alike = np.count_nonzero((chunk[:, :, None] == chunk[:, None, :]) & same, axis=-1)
        ties[part] = np.sum(np.where(alike > 1, (alike - 1) * (2 * alike + 5), 0), axis=-1)
    return ties > 0.0, (full - ties) / 18.0


def _median_of_sorted(ordered: Floats, number: Ints) -> Floats:
    first = int(number.flat[0]) if number.size else 0
    if first and (number == first).all():  # the usual case, and far quicker: all rows hold the same number
        return floats((ordered[..., (first - 1) // 2] + ordered[..., first // 2]) / 2.0)
    return (_pick(ordered, number, (number - 1) // 2) + _pick(ordered, number, number // 2)) / 2.0


def _pick(ordered: Floats, number: Ints, rank: ArrayLike) -> Floats:
    """Return the element of that rank of each row of `number` sorted values, the nearest end if beyond."""
    if ordered.shape[-1] == 0:
        return np.full(ordered.shape[:-1], np.nan)
    place = np.clip(np.asarray(rank).astype(np.int64), 0, np.maximum(number - 1, 0))
    return np.take_along_axis(ordered, place[..., None], axis=-1)[..., 0]


def _rank(s: Floats, size: int) -> Ints:
    return ((s + size * (size - 1) / 2.0) / 2.0).astype(np.int64)


@lru_cache(maxsize=EXACT_UP_TO)
def _exact_p(size: int) -> Floats:
    """Return P(S >= s) for each possible s of `size` readings without ties, rising from the lowest s.

    S = pairs - 2 * inversions; orders with so many inversions are counted by adding one reading at a time.
    """
    orders = np.ones(1)
    for readings in range(2, size + 1):
        orders = np.convolve(orders, np.ones(readings))
    return floats(np.cumsum(orders[::-1])[::-1] / orders.sum())

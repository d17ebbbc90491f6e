"""Whether series have left their usual level, told as early as their noise allows.

Here: cumulative sums [1, 2], the exponentially weighted average [2], the Page-Hinkley statistic as the river
library defines it, and how long a cumulative sum runs before it signals [3]. Not here: slow drift (`trend`).
Limits, slack and weights are arguments: they belong to whoever knows the series. Run lengths hold for
independent readings; readings closer together than the noise forgets itself must be thinned or averaged
first.

`values` has shape (..., n), the last axis in time order; a missing reading (NaN) leaves a statistic as it
was.

1. Page 1954, Biometrika 41:100.
2. NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3 (cumulative sums), 6.3.2.4 (weighted average).
3. Page's integral equation, as Lucas and Crosier 1982, Technometrics 24:199, tabulate it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from wickwatch.agronomy.arrays import Bools, Floats, Ints, floats, not_negative, positive_number, within


def cusum_rise(values: ArrayLike, target: ArrayLike, slack: ArrayLike) -> Floats:
    """Return the one-sided sum for rises, S = max(0, S + value - target - slack), after each reading.

    `target` and `slack` (in the unit of the values) broadcast against (..., n); slack is half the shift to
    find. Computed without a loop: a sum that is reset at 0 is the plain sum less its own lowest point so far.
    """
    gain = floats(values) - floats(target) - not_negative("slack", slack)
    total = np.cumsum(np.where(np.isnan(gain), 0.0, gain), axis=-1)
    return floats(total - np.minimum(np.minimum.accumulate(total, axis=-1), 0.0))


def cusum_fall(values: ArrayLike, target: ArrayLike, slack: ArrayLike) -> Floats:
    """Return the one-sided sum for falls, S = max(0, S + target - slack - value); as `cusum_rise`."""
    return cusum_rise(-floats(values), -floats(target), slack)


def first_above(sums: ArrayLike, limit: ArrayLike) -> Ints:
    """Return the index of the first value above `limit` along the last axis, -1 where there is none."""
    above: Bools = floats(sums) > floats(limit)
    return np.where(above.any(axis=-1), above.argmax(axis=-1), -1)


def last_zero_before(sums: ArrayLike, index: ArrayLike) -> Ints:
    """Return where a sum that signalled at `index` (...) last stood at 0, -1 if never: the change came just after."""
    total = floats(sums)
    where = np.arange(total.shape[-1])
    resting: Bools = (total == 0.0) & (where < np.asarray(index)[..., None])
    return np.where(resting.any(axis=-1), total.shape[-1] - 1 - resting[..., ::-1].argmax(axis=-1), -1)


def ewma(values: ArrayLike, weight: float, start: ArrayLike) -> Floats:
    """Return the exponentially weighted average after each reading: z = weight * value + (1 - weight) * z.

    `weight` in (0, 1]; `start` (...) is z before the first reading.
    """
    share = float(within("weight", positive_number("weight", weight), 0.0, 1.0))
    series = floats(values)
    average = np.empty_like(series)
    now = np.broadcast_to(floats(start), series.shape[:-1]).copy()
    for step in range(series.shape[-1]):
        value = series[..., step]
        now = np.where(np.isnan(value), now, share * value + (1.0 - share) * now)
        average[..., step] = now
    return average


def ewma_half_width(weight: float, sigma: ArrayLike, width: float = 3.0) -> Floats:
    """Return how far a weighted average in control may lie from its target: width sigma sqrt(w / (2 - w))."""
    share = float(within("weight", positive_number("weight", weight), 0.0, 1.0))
    return floats(width * not_negative("sigma", sigma) * np.sqrt(share / (2.0 - share)))


def moving_range_sigma(values: ArrayLike) -> Floats:
    """Return the noise (standard deviation) of each series (...) from its mean step between neighbours.

    Slow drift hardly touches it. 1.128 is the mean range of two normal readings (e-Handbook 6.3.2.2). Steps
    over a missing reading are left out; NaN where no step is left.
    """
    steps = np.abs(np.diff(floats(values), axis=-1))
    there = ~np.isnan(steps)
    count = np.count_nonzero(there, axis=-1)
    total = np.sum(np.where(there, steps, 0.0), axis=-1)
    return np.where(count > 0, total / np.maximum(count, 1) / 1.128, np.nan)


@dataclass(frozen=True)
class PageHinkley:
    """The two statistics after each reading: how far the level has risen, and fallen, against its own mean."""

    rise: Floats
    fall: Floats


def page_hinkley(values: ArrayLike, delta: float, memory: float = 0.9999) -> PageHinkley:
    """Return the Page-Hinkley statistics of each series, compared with its running mean.

    `delta` is the change that is let pass, in the unit of the values; `memory` in (0, 1] is the factor by
    which the sums fade with each reading. As in river's `PageHinkley`, up to its first detection.
    """
    within("memory", positive_number("memory", memory), 0.0, 1.0)
    series = floats(values)
    rise, fall = np.zeros_like(series), np.zeros_like(series)
    count, mean, up, down = (np.zeros(series.shape[:-1]) for _ in range(4))
    lowest, highest = np.full_like(up, np.inf), np.full_like(down, -np.inf)
    for step in range(series.shape[-1]):
        value = series[..., step]
        there = ~np.isnan(value)
        count = count + there
        mean = np.where(there, mean + (value - mean) / np.maximum(count, 1.0), mean)
        up = np.where(there, memory * up + value - mean - delta, up)
        down = np.where(there, memory * down + value - mean + delta, down)
        lowest = np.where(there, np.minimum(lowest, up), lowest)
        highest = np.where(there, np.maximum(highest, down), highest)
        rise[..., step] = np.where(count > 0.0, up - lowest, 0.0)
        fall[..., step] = np.where(count > 0.0, highest - down, 0.0)
    return PageHinkley(rise, fall)


def cusum_run_length(shift: float, slack: float, limit: float, nodes: int = 64) -> float:
    """Return after how many readings, on average, a one-sided sum starting at 0 passes its limit.

    `shift` of the mean towards the signal, `slack` and `limit`, all in standard deviations of independent
    normal readings. Page's integral equation L(u) = 1 + L(0) P(to 0 | u) + int L(y) p(y | u) dy by
    Gauss-Legendre nodes.
    """
    height = positive_number("limit", limit)
    points, weights = np.polynomial.legendre.leggauss(nodes)
    sums = np.concatenate([[0.0], (points + 1.0) * height / 2.0])
    drift = slack - shift
    reset = ndtr(drift - sums)
    step = sums[None, 1:] - sums[:, None] + drift
    density = np.exp(-(step**2) / 2.0) / np.sqrt(2.0 * np.pi) * weights * height / 2.0
    moves = np.column_stack([reset, density])
    return float(np.linalg.solve(np.eye(len(sums)) - moves, np.ones(len(sums)))[0])


def two_sided_run_length(shift: float, slack: float, limit: float) -> float:
    """Return the average run length of a rising and a falling sum kept together: 1/L = 1/L_rise + 1/L_fall."""
    rise = cusum_run_length(shift, slack, limit)
    fall = cusum_run_length(-shift, slack, limit)
    return 1.0 / (1.0 / rise + 1.0 / fall)

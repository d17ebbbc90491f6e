"""Scale, outliers and smoothing that a few wild readings can't move.

Here: the median absolute deviation, modified z-scores and the running median. Not here: lines (`regression`)
and where a series jumps (`segments`). Works along the last axis of any shape; NaN is a missing reading.

1. Hampel 1974, J. Am. Stat. Assoc. 69:383.
2. Iglewicz and Hoaglin 1993, How to Detect and Handle Outliers; NIST/SEMATECH e-Handbook 1.3.5.17.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wickwatch.agronomy.arrays import Floats, floats
from wickwatch.agronomy.trend import nanmedian
from wickwatch.errors import InputError

# Standard deviation of normal readings / their median absolute deviation: 1 / Phi^-1(0.75).
MAD_TO_SIGMA = 1.482602218505602


def mad_sigma(values: ArrayLike) -> Floats:
    """Return the standard deviation of each series (...) estimated from its median absolute deviation [1]."""
    series = floats(values)
    return MAD_TO_SIGMA * nanmedian(np.abs(series - nanmedian(series)[..., None]))


def modified_z(values: ArrayLike) -> Floats:
    """Return each reading's distance from its series' median in robust standard deviations [2].

    Beyond 3.5 a reading is usually taken for an outlier. NaN or infinite where over half the series is alike.
    """
    series = floats(values)
    with np.errstate(divide="ignore", invalid="ignore"):
        return (series - nanmedian(series)[..., None]) / mad_sigma(series)[..., None]


def running_median(values: ArrayLike, window: int) -> Floats:
    """Return the median of the `window` readings around each one, of the same shape as `values`.

    `window` is odd; at both ends it holds what there is of it. NaN only where the whole window is missing.
    """
    if window < 1 or window % 2 == 0:
        raise InputError("window", window, "an odd number of readings")
    series = floats(values)
    half = window // 2
    ends = [(0, 0)] * (series.ndim - 1) + [(half, half)]
    padded = np.pad(series, ends, constant_values=np.nan)
    return nanmedian(np.lib.stride_tricks.sliding_window_view(padded, window, axis=-1))

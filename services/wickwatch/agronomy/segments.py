"""Where a level jumps up, and the quiet stretches between jumps.

Here: finding refills in a series that otherwise falls. Not here: rates within a stretch (`regression`,
`draw`). A refill is looked for as a rise over a window of readings rather than between two, because a hose
takes a while and a wave does not last. A fall (a sensor knocked, water spilt) is a rise of the negative.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wickwatch.agronomy.arrays import Bools, Floats, Ints, positive
from wickwatch.agronomy.robust import running_median
from wickwatch.errors import InputError

# Outside any stretch: within a rise, or missing.
NO_SEGMENT = -1


def rising(values: ArrayLike, window: int, least_rise: ArrayLike, smoothing: int = 3) -> Bools:
    """Return which readings (..., n) lie in a rise of more than `least_rise` within `window` readings.

    `least_rise` (...) is in the unit of the values. The series is first cleared of single spikes by a running
    median of `smoothing` readings (odd), so that one wild reading is not a refill. Every reading between the
    foot and the head of the rise is marked, and the window's flat ends are not. Missing readings are taken as
    the last one before them, so that a refill during a silence is found where readings come again.
    """
    if window < 2:
        raise InputError("window", window, "2 or more readings")
    threshold = positive("least rise", least_rise)[..., None]
    smooth = carried_on(running_median(values, smoothing))
    length = smooth.shape[-1]
    # A climb starts and ends with a step of half the least mean step or more, which keeps flat ends out.
    steep = np.diff(smooth, axis=-1) > threshold / (2.0 * (window - 1))
    marked = np.zeros(smooth.shape, dtype=np.bool_)
    for span in range(1, min(window, length)):
        climbs = smooth[..., span:] - smooth[..., :-span] > threshold
        climbs &= steep[..., : length - span] & steep[..., span - 1 :]
        for step in range(span + 1):
            marked[..., step : length - span + step] |= climbs
    return marked


def carried_on(values: Floats) -> Floats:
    """Return the series (..., n) with each missing reading replaced by the last one before it, if any."""
    there = np.where(np.isnan(values), 0, np.arange(values.shape[-1]))
    return np.take_along_axis(values, np.maximum.accumulate(there, axis=-1), axis=-1)


def segments_between_jumps(jumps: ArrayLike, values: ArrayLike, shortest: int = 3) -> Ints:
    """Return the number of the stretch each reading (..., n) belongs to, from 0; NO_SEGMENT outside.

    `jumps` (bool) marks the readings to leave out, as from `rising`. Stretches of fewer than `shortest`
    readings are left out too; a missing reading belongs to none but does not part one.
    """
    left_out = np.asarray(jumps, dtype=np.bool_)
    missing: Bools = np.isnan(np.asarray(values, dtype=np.float64))
    starts = left_out & ~np.pad(left_out, [(0, 0)] * (left_out.ndim - 1) + [(1, 0)])[..., :-1]
    raw = np.cumsum(starts, axis=-1)
    usable = ~left_out & ~missing
    number = np.full(raw.shape, NO_SEGMENT, dtype=np.int64)
    following = np.zeros(raw.shape[:-1], dtype=np.int64)
    for stretch in range(int(raw.max(initial=0)) + 1):
        members = usable & (raw == stretch)
        long_enough = np.count_nonzero(members, axis=-1) >= shortest
        number = np.where(members & long_enough[..., None], following[..., None], number)
        following = following + long_enough
    return number

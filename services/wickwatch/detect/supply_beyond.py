"""Lines of which all that lies beyond some point dries, while what lies before it is watered: an air lock there.

Containers are taken to be numbered along their line, the nearest to the reservoir first. Where they are not, those that
dry come last by chance only, and that is no more likely than `BEYOND_CHANCE` where it counts here. One that was wet of
late is not due for water and tells nothing. Not here: how many dry, wherever they hang (`supply_interrupted`).
"""

from __future__ import annotations

from math import comb
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import constants as c


class Beyond(NamedTuple):
    """The place of the first dry container among those looked at, and the hours since the first of them left its usual
    range.
    """

    first: int
    hours: int


def beyond(
    along: NDArray[np.int64], asks_h: NDArray[np.int64], lacks_h: NDArray[np.int64], dried_h: NDArray[np.int64]
) -> Beyond | None:
    """Where a line is cut, by N of its containers, all (N,); None where it is not.

    `along` grows with their number; `asks_h` are the hours since which each has stood above its usual peak (0 if it
    does not), `lacks_h` those without water, `dried_h` those since it was last wet.
    """
    dry = asks_h > 1
    if dry.sum() < c.BEYOND_LEAST:
        return None
    hours = int(asks_h[dry].max())
    watered = ~dry & (lacks_h < hours) & (dried_h > hours)
    if comb(int((dry | watered).sum()), int(dry.sum())) < 1.0 / c.BEYOND_CHANCE:
        return None
    first = int(np.flatnonzero(dry)[np.argmin(along[dry])])
    return None if (along[watered] > along[first]).any() else Beyond(first, hours)

"""Lines of which all that lies beyond some point dries, while what lies before it is watered: an air lock there.

Containers are taken to be numbered along their line, the nearest to the reservoir first. Where they are not, those that
dry come last by chance only. That chance alone tells if it is small; two that dry, or three among few, may come last by
chance, but not when they leave their usual range together, as no two emitters do that fail by themselves, and their
reservoir gives by so much less. One that was wet of late is not due for water and tells nothing.
Not here: how many dry, wherever they hang (`supply_interrupted`), and what the reservoir gives (`supply_draw`).
"""

from __future__ import annotations

from math import comb
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import constants as c


class Beyond(NamedTuple):
    """The place of the first dry container among those looked at, how many are dry and how many hang there, those that
    are not due included, and the hours since the first left its usual range; whether their order alone tells, and
    whether it does with a reservoir that gives less, since they left it together.
    """

    first: int
    dry: int
    hang: int
    hours: int
    alone: bool
    together: bool


def beyond(
    along: NDArray[np.int64], asks_h: NDArray[np.int64], lacks_h: NDArray[np.int64], dried_h: NDArray[np.int64]
) -> Beyond | None:
    """Where a line is cut, by N of its containers, all (N,); None where it is not.

    `along` grows with their number; `asks_h` are the hours since which each has stood above its usual peak (0 if it
    does not), `lacks_h` those without water, `dried_h` those since it was last wet.
    """
    dry = asks_h > 1
    if dry.sum() < c.SUPPLY_LEAST:
        return None
    hours = int(asks_h[dry].max())
    watered = ~dry & (lacks_h < hours) & (dried_h > hours)
    first = int(np.flatnonzero(dry)[np.argmin(along[dry])])
    if (along[watered] > along[first]).any():
        return None
    some, hang = int(dry.sum()), int((along >= along[first]).sum())
    chance = 1.0 / comb(some + int(watered.sum()), some)
    alone = some >= c.BEYOND_LEAST and chance <= c.BEYOND_CHANCE
    together = hours - asks_h[dry].min() <= c.BEYOND_TOGETHER_H and chance <= c.BEYOND_TOGETHER_CHANCE
    # What wet ones do not draw, their reservoir gives less as well.
    together &= (dried_h == 0).mean() <= c.BEYOND_TOGETHER_WET
    return Beyond(first, some, hang, hours, alone, bool(together)) if alone or together else None

"""How far containers usually rise in each of the last hours if nothing waters them, by the facility's clock.

Not here: how fast they dry in each hour of a day (`uptake`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect.clock import local_minutes
from wickwatch.detect.sight import Sight
from wickwatch.detect.uptake import own_speed


def usual_rises(sight: Sight, hourly: NDArray[np.float32], hours: int) -> NDArray[np.float64]:
    """Rises [mbar] of containers of one line in so many last hours, the newest last, (N, hours); NaN where none tell.

    `hourly` is their tension on the whole hourly grid (N, T).
    """
    back = np.arange(hours)[::-1] * np.timedelta64(1, "h")
    which = sight.once(f"the last {hours} hours", lambda: local_minutes(sight.facility.zone, sight.as_of - back) // 60)
    return np.asarray(own_speed(hourly, sight.same_hours)[:, which])

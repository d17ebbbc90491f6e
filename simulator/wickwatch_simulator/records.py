"""What really came of each event: when limits were passed, when a reservoir ran dry, how much flowed.

Plain arrays with one number per event (NaN while it has not happened), so that they are saved with the state. Not here:
how they are written as truth (`truth`).
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from wickwatch.agronomy.arrays import Floats


@dataclass
class Records:
    """One entry per planned event, shape (E,). Times in seconds since 1970.

    `wet_s`, `dry_s`: the container's true tension (any container's of a line) first passed the wet or dry limit.
    `due_s`: when a container that its line starves first asked for water, its emitter open.
    `empty_s`: level first at outlet + head. `over_s`: when the event ended, if that depends on what happened.
    `excess_l_per_h`: flow beyond what the plant drank, an hour in. `held`: the reading a stuck instrument shows.
    """

    wet_s: Floats
    dry_s: Floats
    due_s: Floats
    empty_s: Floats
    over_s: Floats
    excess_l_per_h: Floats
    held: Floats

    def arrays(self) -> dict[str, Floats]:
        """All of it by name, as it is saved."""
        return {f.name: getattr(self, f.name) for f in fields(self)}


def records(events: int) -> Records:
    """Nothing has happened yet."""
    return Records(*(np.full(events, np.nan) for _ in fields(Records)))

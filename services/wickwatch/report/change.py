"""A week against the one before: only rooms whose lights were set alike in both, and only what was measured in both.

Not here: trends over more weeks (`trends`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.report.facts import Facts
from wickwatch.report.used import ENOUGH


def in_band(facts: Facts, rooms: NDArray[np.int64] | None = None) -> float:
    """Change of the share of time in band, -1 to 1, of some rooms or all; NaN where nothing compares."""
    place, (before, now) = facts.place, facts.band_by_hours
    chosen = np.arange(len(place.rooms)) if rooms is None else rooms
    which = np.isin(place.room_of, chosen[facts.alike[chosen]]) & (now.measured > 0) & (before.measured > 0)
    return now.share(np.flatnonzero(which)) - before.share(np.flatnonzero(which))


def water(facts: Facts) -> float:
    """Change of the water used by day, as a share of the week before's; NaN where nothing compares."""
    before, now = facts.used_by_hours
    enough = (now.hours >= ENOUGH * facts.week.hours) & (before.hours >= ENOUGH * facts.week.earlier(1).hours)
    which = np.flatnonzero(enough & facts.alike[facts.place.reservoir_room])
    then = (before.litres[which] / before.hours[which]).sum()
    return float((now.litres[which] / now.hours[which]).sum() / then - 1.0) if then > 0 else float("nan")


def apart(facts: Facts) -> list[str]:
    """Names of the rooms that are left out because their photoperiod changed."""
    return [room.name for room, alike in zip(facts.place.rooms, facts.alike, strict=True) if not alike]

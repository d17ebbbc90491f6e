"""How long the lights of each room were on in each week, so that weeks of different photoperiods can be told apart.

Not here: where in its photoperiod a moment is (`detect.clock`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

import numpy as np

from wickwatch.agronomy.arrays import Floats
from wickwatch.detect.clock import lit_minutes
from wickwatch.detect.layout import Layout
from wickwatch.report.week import Week
from wickwatch.store.report_reads import Lights


@dataclass(frozen=True)
class Photoperiods:
    """How rooms' lights were set over time."""

    settings: tuple[Lights, ...]

    def hours(self, place: Layout, weeks: Sequence[Week]) -> Floats:
        """Hours of light a day (rooms, weeks), by what held for most of each week."""
        found = np.tile((place.lights_min / 60.0)[:, np.newaxis], (1, len(weeks)))
        by_room: dict[UUID, list[Lights]] = {}
        for each in self.settings:
            by_room.setdefault(each.room_id, []).append(each)
        for number, room in enumerate(place.rooms):
            for at, week in enumerate(weeks):
                longest = max(by_room.get(room.id, []), key=lambda each: _overlap_s(each, week), default=None)
                if longest is not None and _overlap_s(longest, week) > 0.0:
                    found[number, at] = lit_minutes(longest.lights_on, longest.lights_off) / 60.0
        return found


def _overlap_s(each: Lights, week: Week) -> float:
    start = week.start if each.start is None else max(each.start, week.start)
    end: datetime = week.end if each.end is None else min(each.end, week.end)
    return (end - start).total_seconds()

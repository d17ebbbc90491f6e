"""Forecasts as they were made along a replay, to be compared with what came.

Every few hours each reservoir's time to empty, and the time to the dry limit of each container found drying. Not here:
the comparison (`measures`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

import numpy as np

from tests.evaluation.runs import Run
from wickwatch.detect import Finding, Judgement
from wickwatch.detect.reservoir_low import outlook
from wickwatch.detect.sight import Sight

#: Hours between forecasts that are kept: neighbours differ little.
EVERY_H = 6
#: Reservoirs that last longer than this [h] are nobody's business yet.
WITHIN_H = 96.0


@dataclass(frozen=True)
class Foresight:
    """At one moment, hours until something happens to a subject: expected, and ends of the 80 % interval."""

    what: Literal["empty", "dry-limit"]
    facility: str
    room: str
    subject: str
    at: datetime
    hours: float
    low: float
    high: float
    way: str = ""


@dataclass
class Watcher:
    """Looks over the shoulder of one facility's replay."""

    run: Run
    seen: list[Foresight] = field(default_factory=list)

    def watching(self, judged: Iterator[Judgement]) -> Iterator[Judgement]:
        """Hand judgements on, and note forecasts."""
        for judgement in judged:
            # Sweeps made between two others see no new readings, and records have no frames of their moments.
            if judgement.as_of.timestamp() % (3600 * EVERY_H) == 0:
                self._reservoirs(judgement.as_of)
                self._containers(judgement)
            yield judgement

    def _reservoirs(self, at: datetime) -> None:
        place = self.run.place
        sight = Sight(self.run.record.frame(np.datetime64(at.replace(tzinfo=None), "us")), place, ())
        which = np.flatnonzero(sight.level.known)
        if not len(which):
            return
        ahead = outlook(sight, which)
        for n in np.flatnonzero(ahead.hours.low <= WITHIN_H):
            number = int(ahead.which[n])
            room = sight.place.rooms[int(sight.place.reservoir_room[number])].slug
            value, low, high = (float(end[n]) for end in ahead.hours.ends)
            self.seen.append(
                Foresight("empty", place.slug, room, sight.place.reservoirs[number].slug, at, value, low, high)
            )

    def _containers(self, judgement: Judgement) -> None:
        room_of = {room.id: room.slug for room in self.run.place.rooms}
        for finding in judgement.findings:
            hours = finding.evidence.get("hours_to_dry_limit")
            if finding.kind != "drying-drift" or not isinstance(hours, float) or hours <= 0.0:
                continue
            low, high = _end(finding, "low"), _end(finding, "high")
            way = "slow" if "slope_mbar_per_day" in finding.evidence else "fast"
            room = room_of.get(finding.room_id, "") if finding.room_id else ""
            slug = finding.subject.name
            self.seen.append(
                Foresight("dry-limit", self.run.place.slug, room, slug, judgement.as_of, hours, low, high, way)
            )


def _end(finding: Finding, which: str) -> float:
    value = finding.evidence.get(f"hours_to_dry_limit_{which}")
    return float(value) if isinstance(value, int | float) else np.inf

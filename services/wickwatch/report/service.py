"""Sensors to service: those that said too little, could not be believed, or whose charge runs low.

Not here: alarms about them, which call at once.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from wickwatch.report import words
from wickwatch.report.completeness import WHOLE
from wickwatch.report.facts import Facts
from wickwatch.texts import _

#: Charge [%] below which a battery is changed on the way. Chosen here: a week or more before it ends.
LOW_CHARGE = 25.0


@dataclass(frozen=True)
class Sensor:
    """One sensor by what it measures: `share` of the week that was measured, `why` it is named."""

    name: str
    room: str
    share: float
    gap_h: float
    why: str


def to_service(facts: Facts) -> list[Sensor]:
    """Those to service, those that said least first."""
    return sorted([*_probes(facts), *_levels(facts)], key=lambda each: (each.share, each.room, each.name))


def _probes(facts: Facts) -> Iterator[Sensor]:
    place, seen = facts.place, facts.completeness
    faults = {(each.room_id, each.subject) for each in facts.alarms if each.kind == "probe-fault"}
    for number, container in enumerate(place.containers):
        share, room = float(seen.probes[number]), place.rooms[int(place.room_of[number])]
        reasons = []
        if np.isfinite(share) and share < WHOLE:
            reasons.append(_("%(percent)s of the week measured", percent=words.percent(share, 0)))
        if (room.id, container.name) in faults:
            reasons.append(_("judged not to tell the truth"))
        charge = facts.charges.get(container.id)
        if charge is not None and charge < LOW_CHARGE:
            reasons.append(_("battery at %(percent)s", percent=words.number(charge, 0, "%")))
        if reasons:
            yield Sensor(container.name, room.name, share, float(seen.probe_gap_h[number]), ", ".join(reasons))


def _levels(facts: Facts) -> Iterator[Sensor]:
    place, seen = facts.place, facts.completeness
    for number, reservoir in enumerate(place.reservoirs):
        share = float(seen.levels[number])
        if np.isfinite(share) and share < WHOLE:
            room = place.rooms[int(place.reservoir_room[number])].name
            why = _("level: %(percent)s of the week measured", percent=words.percent(share, 0))
            yield Sensor(reservoir.name, room, share, float(seen.level_gap_h[number]), why)

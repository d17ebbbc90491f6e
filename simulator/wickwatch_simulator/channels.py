"""Every channel of a fleet, numbered, with its unit, facility, gateway and what it measures.

Order: tension (first the N probes of containers, then twins), level, temperature, humidity, battery. Not here: values.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from wickwatch_simulator.plan import Gateway, Probe
from wickwatch_simulator.scenario import Scenario
from wickwatch_simulator.world import World

UNIT_OF = {"tension": "hPa", "level": "mm", "temperature": "Cel", "humidity": "%RH", "battery": "%EL"}

Index = NDArray[np.intp]


@dataclass(frozen=True)
class Channels:
    """All channels, C of them.

    `gateway` (C,) counts over all facilities; `gateways` pairs facility and gateway in that order.
    """

    names: tuple[str, ...]
    quantities: tuple[str, ...]
    facility: Index
    gateway: Index
    gateways: tuple[tuple[str, Gateway], ...]
    facilities: tuple[str, ...]
    probes: tuple[Probe, ...]
    container_of: Index
    tension: slice
    level: slice
    temperature: slice
    humidity: slice
    battery: slice

    @property
    def units(self) -> tuple[str, ...]:
        """Unit of each channel's values, as SenML writes it."""
        return tuple(UNIT_OF[q] for q in self.quantities)


def channels(scenario: Scenario, w: World) -> Channels:
    """Number the channels of a scenario's fleet."""
    gateways = tuple((f.slug, g) for f in scenario.facilities for g in f.gateways)
    number = {(f, g.slug): i for i, (f, g) in enumerate(gateways)}
    facilities = tuple(f.slug for f in scenario.facilities)
    twins = [i for i, c in enumerate(w.container_plans) if c.twin is not None]
    container_of = np.array([*range(w.probed), *twins], dtype=np.intp)
    probes = [c.probe for c in w.container_plans] + [c.twin for c in w.container_plans if c.twin is not None]
    room_of = [int(w.room_of[i]) for i in container_of]
    level_room = [int(r) for r in w.reservoir_room]
    every = list(range(len(w.room_plans)))
    devices = [p.channel for p in probes] + [r.channel for r in w.reservoir_plans]
    names = [
        *devices,
        *(r.temperature_channel for r in w.room_plans),
        *(r.humidity_channel for r in w.room_plans),
        *(name.rsplit(":", 1)[0] + ":battery" for name in devices),
    ]
    rooms = [*room_of, *level_room, *every, *every, *room_of, *level_room]
    plans = [w.room_plans[r] for r in rooms]
    ends = np.cumsum([0, len(probes), len(level_room), len(every), len(every), len(devices)])
    parts = [slice(int(a), int(b)) for a, b in pairwise(ends)]
    return Channels(
        tuple(names),
        tuple(name.rsplit(":", 1)[1] for name in names),
        np.array([facilities.index(p.facility) for p in plans], dtype=np.intp),
        np.array([number[p.facility, p.gateway] for p in plans], dtype=np.intp),
        gateways,
        facilities,
        tuple(probes),
        container_of,
        *parts,
    )

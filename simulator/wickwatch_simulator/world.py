"""The fleet's true properties as flat arrays, and its state: what the engine works on.

Containers are numbered 0..M-1: first the N with a probe, then a companion for each probe that stands for more than one,
with the weight of the others. Not here: what changes the state (`engine`).
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Floats
from wickwatch_simulator import climate, containers, demand, lines, reservoirs
from wickwatch_simulator.emitters import REFERENCE_HEAD_MM
from wickwatch_simulator.plan import Container, Reservoir, Room
from wickwatch_simulator.scenario import Scenario

Index = NDArray[np.intp]


@dataclass(frozen=True)
class World:
    """Fixed properties. Shapes: (M,) containers, (R,) reservoirs, (L, P) positions on lines, (rooms,)."""

    probed: int
    weight: Floats
    room_of: Index
    line_of: Index
    slot_of: Index
    reservoir_of: Index
    soil: containers.Soil
    plant_l_per_h: Floats
    spread_h: Floats
    set_point_mbar: Floats
    per_mbar: Floats
    half_play_mbar: Floats
    cup_lag_s: Floats
    l_per_h_per_mm: Floats
    probe_lag_s: Floats
    loss: Floats
    tanks: reservoirs.Tanks
    evaporation_l_per_h: Floats
    reservoir_room: Index
    rooms: climate.Rooms
    age_days: Floats
    half_days: Floats
    grow_days: Floats
    container_plans: tuple[Container, ...]
    reservoir_plans: tuple[Reservoir, ...]
    room_plans: tuple[Room, ...]


@dataclass
class State:
    """What changes. Litres, mbar, degC, %RH; totals in litres over all containers they stand for."""

    water_l: Floats
    surface_l: Floats
    branch: Floats
    cup_mbar: Floats
    membrane_mbar: Floats
    reading_mbar: Floats
    flow_l_per_h: Floats
    volume_l: Floats
    air: Floats
    medium_degc: Floats
    refill_to_l: Floats
    refill_l_per_h: Floats
    refill_begin_s: Floats
    drawn_l: Floats
    given_l: Floats
    transpired_l: Floats
    drained_l: Floats
    evaporated_l: Floats
    leaked_l: Floats
    refilled_l: Floats
    air_entry_s: Floats

    def arrays(self) -> dict[str, Floats]:
        """All of it by name, as it is saved."""
        return {f.name: getattr(self, f.name) for f in fields(self)}


def world(scenario: Scenario) -> World:
    """Flatten a scenario's fleet."""
    rooms = scenario.rooms
    zone_of = {f.slug: f.zone for f in scenario.facilities}
    own: list[tuple[Container, int, int]] = []  # container, room, line
    tanks: list[Reservoir] = []
    matrices: list[Floats] = []
    reservoir_room: list[int] = []
    reservoir_of_line: list[int] = []
    for r, room in enumerate(rooms):
        first = len(tanks)
        for line in room.lines:
            pots = [c for c in room.containers if c.line == line.slug]
            own += [(c, r, len(matrices)) for c in pots]
            matrices.append(lines.loss_matrix(line.kind, max(len(pots), 1), line.loss_mm_per_l_h))
            reservoir_of_line.append(first + [t.slug for t in room.reservoirs].index(line.reservoir))
        tanks += room.reservoirs
        reservoir_room += [r] * len(room.reservoirs)
    extra = [(c, r, at) for c, r, at in own if c.stands_for > 1]
    both = own + extra
    emitters = [c.emitter for c, _, _ in own] + [c.companion for c, _, _ in extra]
    loss = lines.stacked(matrices)
    plans = [c for c, _, _ in both]
    line_of = np.array([at for _, _, at in both], dtype=np.intp)
    return World(
        probed=len(own),
        weight=np.array([1.0] * len(own) + [c.stands_for - 1.0 for c, _, _ in extra]),
        room_of=np.array([r for _, r, _ in both], dtype=np.intp),
        line_of=line_of,
        slot_of=line_of * loss.shape[1] + np.array([c.position for c in plans], dtype=np.intp),
        reservoir_of=np.array(reservoir_of_line, dtype=np.intp)[line_of],
        soil=containers.soil(
            [c.medium for c in plans],
            np.array([c.volume_l for c in plans]),
            np.array([c.height_mm for c in plans]),
            np.array([c.wetting_share for c in plans]),
        ),
        plant_l_per_h=np.array([c.plant_l_per_day for c in plans]) / demand.HOURS_WORTH,
        spread_h=np.array([c.spread_s for c in plans]) / 3600.0,
        set_point_mbar=np.array([e.set_point_mbar for e in emitters]),
        per_mbar=1.0 / np.array([e.band_mbar for e in emitters]),
        half_play_mbar=np.array([e.play_mbar for e in emitters]) / 2.0,
        cup_lag_s=np.array([e.cup_lag_s for e in emitters]),
        l_per_h_per_mm=np.array([e.full_l_per_h for e in emitters]) / REFERENCE_HEAD_MM,
        probe_lag_s=np.array([c.probe.lag_s for c, _, _ in own]),
        loss=loss,
        tanks=reservoirs.tanks(tanks),
        evaporation_l_per_h=np.array([t.evaporation_l_per_h for t in tanks]),
        reservoir_room=np.array(reservoir_room, dtype=np.intp),
        rooms=climate.rooms(rooms, zone_of),
        age_days=np.array([r.growth.age_days for r in rooms]),
        half_days=np.array([r.growth.half_days for r in rooms]),
        grow_days=np.array([r.growth.spread_days for r in rooms]),
        container_plans=tuple(c for c, _, _ in own),
        reservoir_plans=tuple(tanks),
        room_plans=rooms,
    )


def first_state(w: World) -> State:
    """A fleet at rest: every container at its set point, every reservoir as its plan has it, air at night."""
    m, r = len(w.weight), len(w.reservoir_plans)
    start = w.set_point_mbar.copy()
    zeros_m, zeros_r = np.zeros(m), np.zeros(r)
    share = np.array([t.start_share for t in w.reservoir_plans])
    return State(
        water_l=containers.water_at(w.soil, start),
        surface_l=zeros_m.copy(),
        branch=np.ones(m),
        cup_mbar=start.copy(),
        membrane_mbar=start - w.half_play_mbar,
        reading_mbar=start[: w.probed].copy(),
        flow_l_per_h=zeros_m.copy(),
        volume_l=share * w.tanks.full_l,
        air=w.rooms.night.copy(),
        medium_degc=w.rooms.night[0].copy(),
        refill_to_l=zeros_r.copy(),
        refill_l_per_h=zeros_r.copy(),
        refill_begin_s=np.full(r, np.inf),
        drawn_l=zeros_r.copy(),
        given_l=zeros_m.copy(),
        transpired_l=zeros_m.copy(),
        drained_l=zeros_m.copy(),
        evaporated_l=zeros_r.copy(),
        leaked_l=zeros_r.copy(),
        refilled_l=zeros_r.copy(),
        air_entry_s=np.full(w.probed + sum(c.twin is not None for c in w.container_plans), np.nan),
    )

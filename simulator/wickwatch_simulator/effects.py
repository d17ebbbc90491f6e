"""What the events in force do to the physics, as arrays the engine reads; rebuilt at every segment.

A segment lies within one hour and crosses no event's beginning or end, so effects that grow with time (a creeping set
point, leaves growing back) are steps of an hour at most. They are counted from the segment's own beginning, never from
where a run was cut. Not here: what events do to readings (`probe_events`) and to messages (`gateways`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Floats
from wickwatch_simulator import keyed
from wickwatch_simulator.placed import Placed
from wickwatch_simulator.world import World

#: Days in which pruned leaves grow back to about two thirds.
REGROWTH_DAYS = 12.0
#: Days over which an uneven room becomes so.
UNEVEN_DAYS = 2.0


@dataclass
class Effects:
    """Changes in force. (M,) containers, (R,) reservoirs, (rooms,)."""

    least_opening: Floats
    set_point_shift_mbar: Floats
    passes: Floats
    hand_l_per_h: Floats
    leaf_share: Floats
    leak_l_per_h: Floats
    kept_off: NDArray[np.bool_]
    air_shift: Floats
    late_min: Floats
    late_since_s: Floats
    light_hours: Floats


def none(w: World) -> Effects:
    """No event in force."""
    m, r, rooms = len(w.weight), len(w.reservoir_plans), len(w.room_plans)
    return Effects(
        least_opening=np.zeros(m),
        set_point_shift_mbar=np.zeros(m),
        passes=np.ones(m),
        hand_l_per_h=np.zeros(m),
        leaf_share=np.ones(m),
        leak_l_per_h=np.zeros(r),
        kept_off=np.zeros(r, dtype=np.bool_),
        air_shift=np.zeros((2, rooms)),
        late_min=np.zeros(rooms),
        late_since_s=np.zeros(rooms),
        light_hours=np.full(rooms, np.nan),
    )


def in_force(w: World, seed: int, active: Iterable[Placed], segment_s: float) -> Effects:
    """Effects of the active events on a segment that begins at `segment_s` [s since 1970]."""
    e = none(w)
    for event in active:
        _ADD.get(event.event, _nothing)(w, e, event, (segment_s - event.begin_s) / 86400.0, seed)
    return e


def _nothing(w: World, e: Effects, event: Placed, days: float, seed: int) -> None:
    """An event of readings or messages leaves the physics alone."""


def _stuck_open(w: World, e: Effects, event: Placed, days: float, seed: int) -> None:
    e.least_opening[event.index] = event.values["opening"]


def _drifting(w: World, e: Effects, event: Placed, days: float, seed: int) -> None:
    e.set_point_shift_mbar[event.index] += event.values["mbar_per_day"] * days


def _clogged(w: World, e: Effects, event: Placed, days: float, seed: int) -> None:
    e.passes[event.index] *= event.values["passes"]


def _on_line(w: World, e: Effects, event: Placed, days: float, seed: int) -> None:
    """A closed valve starves the whole line, an air lock what lies beyond it."""
    here = np.flatnonzero(w.line_of == event.index)
    position = w.slot_of[here] % w.loss.shape[1]
    beyond = here[position >= event.values.get("from_share", 0.0) * (position.max() + 1)]
    e.passes[beyond] *= event.values["passes"]


def _uneven(w: World, e: Effects, event: Placed, days: float, seed: int) -> None:
    """A share of the room's emitters moves away from the rest, drier and half as far wetter by turns."""
    here = np.flatnonzero(w.room_of[: w.probed] == event.index)
    rng = keyed.generator(seed, "uneven", event.number)
    moved = rng.permutation(here)[: max(round(event.values["share"] * len(here)), 1)]
    shift = np.resize([1.0, -0.5], len(moved)) * event.values["spread_mbar"] * rng.uniform(0.8, 1.2, len(moved))
    e.set_point_shift_mbar[moved] += shift * min(days / UNEVEN_DAYS, 1.0)


def _nobody_refills(w: World, e: Effects, event: Placed, days: float, seed: int) -> None:
    e.kept_off[event.index] = True


def _leak(w: World, e: Effects, event: Placed, days: float, seed: int) -> None:
    e.leak_l_per_h[event.index] += event.values["l_per_h"]


def _hand_watering(w: World, e: Effects, event: Placed, days: float, seed: int) -> None:
    e.hand_l_per_h[event.index] += event.values["share_of_volume"] * w.soil.volume_l[event.index] / event.hours


def _hand_watering_room(w: World, e: Effects, event: Placed, days: float, seed: int) -> None:
    here = w.room_of == event.index
    e.hand_l_per_h[here] += event.values["share_of_volume"] * w.soil.volume_l[here] / event.hours


def _air(w: World, e: Effects, event: Placed, days: float, seed: int) -> None:
    e.air_shift[0, event.index] += event.values["degc"]
    # Warmer air of the same vapour is drier: about 3 %RH per degree near room conditions, from the Tetens curve.
    e.air_shift[1, event.index] += event.values.get("rh", -2.0 * event.values["degc"])


def _late_lights(w: World, e: Effects, event: Placed, days: float, seed: int) -> None:
    e.late_min[event.index] = event.values["minutes"]
    e.late_since_s[event.index] = event.begin_s


def _photoperiod(w: World, e: Effects, event: Placed, days: float, seed: int) -> None:
    e.light_hours[event.index] = event.values["light_hours"]


def _pruning(w: World, e: Effects, event: Placed, days: float, seed: int) -> None:
    left = event.values["leaf_share"]
    e.leaf_share[w.room_of == event.index] *= 1.0 - (1.0 - left) * np.exp(-days / REGROWTH_DAYS)


def _plant_removed(w: World, e: Effects, event: Placed, days: float, seed: int) -> None:
    e.leaf_share[event.index] *= event.values["leaf_share"]


_ADD = {
    "stuck-open": _stuck_open,
    "drifting": _drifting,
    "clogged": _clogged,
    "closed-valve": _on_line,
    "air-lock": _on_line,
    "uneven-room": _uneven,
    "empty-reservoir": _nobody_refills,
    "reservoir-leak": _leak,
    "hand-watering": _hand_watering,
    "hand-watering-room": _hand_watering_room,
    "hot-day": _air,
    "door-open": _air,
    "late-lights": _late_lights,
    "photoperiod-change": _photoperiod,
    "pruning": _pruning,
    "plant-removed": _plant_removed,
}

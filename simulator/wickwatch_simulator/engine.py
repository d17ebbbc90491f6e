"""The water balance stepped through time, for the whole fleet at once.

One step: tension from water, cup and membrane follow, emitters open, head and losses give flow, water spreads, is drunk
and drains; reservoirs pay for it. Lags and spreading use their exact solution over a step and emitters change little
within a minute, so that steps of 10 s to a minute agree. Not here: events (`effects`), readings (`probes`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Floats
from wickwatch_simulator import climate, containers, demand, emitters, lines, reservoirs
from wickwatch_simulator.effects import Effects
from wickwatch_simulator.world import State, World

Times = NDArray[np.int64]


@dataclass(frozen=True)
class Sampled:
    """True values at the sampled moments: (k, N) probe tension, (k, R) level, (k, rooms) air and medium."""

    at_s: Times
    tension_mbar: Floats
    level_mm: Floats
    temperature_degc: Floats
    humidity_rh: Floats
    medium_degc: Floats


def open_share(w: World, s: State, e: Effects) -> Floats:
    """How far each emitter is open, 0 to 1, whatever its line gives it."""
    set_point = w.set_point_mbar + e.set_point_shift_mbar
    return np.maximum(emitters.opening(s.membrane_mbar, set_point, w.per_mbar), e.least_opening)


@dataclass(frozen=True)
class Rates:
    """Shares that lags move in one step, for one length of step."""

    step_s: int
    cup: Floats
    probe: Floats
    spread: Floats
    air: Floats
    medium: float


def rates(w: World, step_s: int) -> Rates:
    """Shares for a step of this many seconds."""
    h = step_s / 3600.0
    return Rates(
        step_s,
        -np.expm1(-step_s / w.cup_lag_s),
        -np.expm1(-step_s / w.probe_lag_s),
        -np.expm1(-h / w.spread_h),
        -np.expm1(-step_s / w.rooms.lag_s),
        -np.expm1(-step_s / climate.MEDIUM_LAG_S),
    )


def air(w: World, s: State, e: Effects, r: Rates, seed: int, at_s: Times) -> tuple[Floats, NDArray[np.bool_], Floats]:
    """Air (2, steps, rooms), light (steps, rooms) and medium temperature over a segment; moves the state on."""
    minute = climate.local_minute(w.rooms, at_s)
    on = w.rooms.lights_on_min
    off = np.where(np.isnan(e.light_hours), w.rooms.lights_off_min, (on + 60.0 * np.nan_to_num(e.light_hours)) % 1440.0)
    burning = (minute - on) % 1440.0
    # Late are the next lights to come on, never ones that burn already.
    late = (burning < e.late_min) & (burning <= (at_s[:, np.newaxis] - e.late_since_s) / 60.0)
    light = climate.lit(minute, on, off) & ~late
    target = np.where(light, w.rooms.day[:, np.newaxis], w.rooms.night[:, np.newaxis])
    target = target + climate.weather(seed, len(on), at_s) + e.air_shift[:, np.newaxis]
    out, medium = np.empty_like(target), np.empty_like(target[0])
    for i in range(len(at_s)):
        s.air = s.air + r.air * (target[:, i] - s.air)
        s.medium_degc = s.medium_degc + r.medium * (s.air[0] - s.medium_degc)
        out[:, i], medium[i] = s.air, s.medium_degc
    out[1] = np.clip(out[1], 5.0, 98.0)
    return out, light, medium


def advance(
    w: World,
    s: State,
    e: Effects,
    r: Rates,
    seed: int,
    age_days: float,
    at_s: Times,
    sample: NDArray[np.bool_],
) -> Sampled:
    """Step the state on from each moment of `at_s` (one step apart, within one segment).

    Returns what is true at the moments marked in `sample`, before their step.
    """
    hours = r.step_s / 3600.0
    out, light, medium = air(w, s, e, r, seed, at_s)
    size = demand.size(w.age_days + age_days, w.half_days, w.grow_days)
    wanted = (demand.drive(light, out[0], out[1]) * size)[:, w.room_of] * (w.plant_l_per_h * e.leaf_share * hours)
    hand, n = e.hand_l_per_h * hours, w.probed
    by_reservoir = len(w.reservoir_plans)
    positions = w.loss.shape[:2]
    tension, levels = [], []
    first_refill, nothing = s.refill_begin_s.min(), np.zeros(by_reservoir)
    for i in range(len(at_s)):
        mbar = containers.drying_tension(w.soil, s.water_l) * s.branch
        s.cup_mbar = s.cup_mbar + r.cup * (mbar - s.cup_mbar)
        s.membrane_mbar = emitters.membrane(s.membrane_mbar, s.cup_mbar, w.half_play_mbar)
        share = open_share(w, s, e)

        level = reservoirs.level(w.tanks, s.volume_l)
        if sample[i]:
            tension.append(s.reading_mbar)
            levels.append(level)
        head, passing = reservoirs.feed(w.tanks, level)
        weighted = s.flow_l_per_h * w.weight
        at_slots = np.bincount(w.slot_of, weighted, positions[0] * positions[1])
        lost = lines.losses(w.loss, at_slots.astype(np.float64, copy=False).reshape(w.loss.shape[:2]))
        here = head[w.reservoir_of] - lost.ravel()[w.slot_of]
        flow = emitters.flow(share, w.l_per_h_per_mm, here) * e.passes * passing[w.reservoir_of]
        drawn = np.bincount(w.reservoir_of, flow * w.weight, by_reservoir) * hours
        left = np.maximum(s.volume_l - w.tanks.outlet_l, 0.0)
        if (drawn > left).any():  # the last drop: nobody gets more than there is
            scale = np.minimum(left / np.maximum(drawn, 1e-12), 1.0)
            flow, drawn = flow * scale[w.reservoir_of], drawn * scale
        s.flow_l_per_h = flow

        given = flow * hours + hand
        arrived = (s.surface_l + given) * r.spread
        s.surface_l = s.surface_l + given - arrived
        drunk = wanted[i] * containers.uptake_share(mbar)
        gone = containers.drained(w.soil, s.water_l + arrived - drunk, hours)
        gained = arrived - drunk - gone
        s.water_l = s.water_l + gained
        s.branch = containers.branch(w.soil, s.branch, gained)
        s.reading_mbar = s.reading_mbar + r.probe * (mbar[:n] - s.reading_mbar)

        out_l = np.minimum(s.volume_l - drawn, w.evaporation_l_per_h * hours)
        leaked = np.minimum(s.volume_l - drawn - out_l, reservoirs.leak(w.tanks, level, e.leak_l_per_h) * hours)
        filled = _refilled(s, at_s[i], hours) if at_s[i] >= first_refill else nothing
        s.volume_l = np.minimum(s.volume_l - drawn - out_l - leaked + filled, w.tanks.full_l)

        s.given_l += hand
        s.transpired_l += drunk
        s.drained_l += gone
        s.drawn_l += drawn
        s.evaporated_l += out_l
        s.leaked_l += leaked
        s.refilled_l += filled
    return Sampled(
        at_s[sample],
        np.array(tension).reshape(-1, n),
        np.array(levels).reshape(-1, by_reservoir),
        out[0][sample],
        out[1][sample],
        medium[sample],
    )


def _refilled(s: State, at_s: np.int64, hours: float) -> Floats:
    """Water [l] from the hose in this step; a refill ends when its volume is reached."""
    running = s.refill_begin_s <= at_s
    filled = np.where(running, np.clip(s.refill_to_l - s.volume_l, 0.0, s.refill_l_per_h * hours), 0.0)
    s.refill_begin_s = np.where(running & (s.volume_l + filled >= s.refill_to_l - 1e-9), np.inf, s.refill_begin_s)
    return filled

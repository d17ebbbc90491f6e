"""Reservoirs: level from volume for every shape, head at the outlet, and the people who refill them.

All functions work on every reservoir at once (arrays of shape (R,)). Not here: what leaks or is drawn (`engine`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Floats
from wickwatch.agronomy.tank import tank_from_keys
from wickwatch_simulator import keyed
from wickwatch_simulator.climate import utc_offset_min
from wickwatch_simulator.plan import Reservoir

#: Points of the table of level by volume; between them it is straight, within 0.3 mm for any tank here.
POINTS = 1025
#: Share of a reservoir below which nobody bothers to add water.
SMALLEST_REFILL = 0.04


@dataclass(frozen=True)
class Tanks:
    """Each reservoir's level by equal steps of volume, shape (R, POINTS), and its heights [mm] and volumes [l]."""

    table_mm: Floats
    full_l: Floats
    outlet_mm: Floats
    head_mm: Floats
    stand_mm: Floats
    outlet_l: Floats
    empty_l: Floats
    row: NDArray[np.intp]


def tanks(plans: Sequence[Reservoir]) -> Tanks:
    """Geometry of reservoirs; raises InputError for a shape or key that can't be."""
    made = [tank_from_keys(str(plan.keys["shape"]), plan.keys) for plan in plans]
    full = np.array([tank.full_l for tank in made])
    table = np.array([tank.level_mm(np.linspace(0.0, tank.full_l, POINTS)) for tank in made])
    outlet, head = np.array([p.outlet_mm for p in plans]), np.array([p.head_mm for p in plans])
    return Tanks(
        table,
        full,
        outlet,
        head,
        np.array([p.stand_mm for p in plans]),
        np.array([float(tank.volume_l(o)) for tank, o in zip(made, outlet, strict=True)]),
        np.array([float(tank.volume_l(e)) for tank, e in zip(made, outlet + head, strict=True)]),
        np.arange(len(plans)),
    )


def level(tanks: Tanks, volume_l: Floats) -> Floats:
    """Level [mm above the bottom] at a volume [l]."""
    at = volume_l * ((POINTS - 1) / tanks.full_l)
    low = np.minimum(at.astype(np.intp), POINTS - 2)
    below = tanks.table_mm[tanks.row, low]
    return np.asarray(below + (tanks.table_mm[tanks.row, low + 1] - below) * (at - low))


def feed(tanks: Tanks, level_mm: Floats) -> tuple[Floats, Floats]:
    """Head [mm] over the drip points, and share of flow that passes.

    Below outlet + head the line takes in air and starves; at the outlet nothing passes.
    """
    over = np.maximum(level_mm - tanks.outlet_mm, 0.0)
    return tanks.stand_mm + over, np.minimum(over / tanks.head_mm, 1.0)


def leak(tanks: Tanks, level_mm: Floats, l_per_h: Floats) -> Floats:
    """Flow [l/h] out of a hole at the bottom that lets `l_per_h` out at half the tank's height (Torricelli)."""
    return np.asarray(l_per_h * np.sqrt(np.maximum(level_mm, 0.0) / (0.5 * tanks.table_mm[:, -1])))


@dataclass(frozen=True)
class Refill:
    """A refill decided on: from when [s since 1970], to which volume [l], how fast [l/h]."""

    reservoir: int
    begin_s: int
    to_l: float
    l_per_h: float


def refills(
    seed: int,
    plans: Sequence[Reservoir],
    zones: Sequence[str],
    hour_s: int,
    volume_l: Floats,
    full_l: Floats,
    enough_l: Floats,
) -> list[Refill]:
    """What people decide in one hour: those whose hour it is look at their reservoirs, and fill what is low.

    They forget now and then, and come some minutes into the hour. `enough_l` (R,) is how much they think is enough,
    infinite for as much as is usual, 0 where nobody refills.
    """
    local = {zone: hour_s // 60 + utc_offset_min(zone, hour_s) for zone in set(zones)}
    found = []
    for i, plan in enumerate(plans):
        minute = local[zones[i]]
        weekday = (minute // 1440 + 3) % 7  # 1 January 1970 was a Thursday
        habit = plan.habit
        if minute % 1440 // 60 != habit.hour or weekday not in habit.weekdays:
            continue
        if volume_l[i] >= min(habit.below_share * full_l[i], enough_l[i] - SMALLEST_REFILL * full_l[i]):
            continue
        rng = keyed.generator(seed, f"refill {i}", hour_s // 3600)
        if rng.random() >= habit.forget_share:
            to_l = min((habit.fill_share + rng.uniform(-0.03, 0.03)) * full_l[i], enough_l[i])
            found.append(Refill(i, hour_s + 60 * int(rng.integers(0, 50)), to_l, habit.hose_l_per_h))
    return found

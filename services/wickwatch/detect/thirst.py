"""How much of each reservoir's containers is too wet to draw, or gets no water, hour by hour.

An emitter stays closed while its container is wet, however much its plants drink: after somebody walked round with a
can, or while plants are young in a wet medium, a room draws next to nothing for days. What leaves its reservoir then,
nothing takes; and such days tell nothing of what is usual once the containers have dried. Nor do hours in which many
stood in drought: their line was cut off. Not here: how much a reservoir gives (`draws`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Floats
from wickwatch.detect import constants as c
from wickwatch.detect.frame import Frame
from wickwatch.detect.layout import NONE, Layout
from wickwatch.detect.signals import Signals
from wickwatch.detect.window import add_by, chunks, cut

#: Containers looked at at once: some 15 MB.
_CHUNK = 2048


def thirst(frame: Frame, place: Layout, signal: Signals) -> tuple[Floats, NDArray[np.bool_]]:
    """Share of each reservoir's draw whose containers are wet in a whole hour, and where many starve, (R, hours).

    Wet are those that have not come near their set point in that hour; starved those far beyond it, and those whose
    probe shows nothing, since it lost its water in a drought or stands in water. Each counts by how fast it dries near
    its set point: where a plant was taken out, none draws. The first is 0 where at most `WET_MOST` is wet, since the
    others take what they leave, and where none is known.
    """
    which = np.flatnonzero(place.reservoir_of != NONE)
    shape = len(place.reservoirs), len(frame.coarse.times)
    wet, starved, of = np.zeros(shape), np.zeros(shape), np.zeros(shape[0])
    for part in chunks(len(which), _CHUNK):
        _add(frame, place, signal, which[part], wet, starved, of)
    wet, starved = (each / np.where(of > 0.0, of, 1.0)[:, np.newaxis] for each in (wet, starved))
    return np.where(wet > c.WET_MOST, wet, 0.0), starved > c.STARVED_MOST


def near_set_point(place: Layout) -> Floats:
    """Tension [mbar] from which containers (N,) are near their set point: half-way to it from the wet limit."""
    return _half_way(place, "wet_limit_mbar", "set_point_mbar")


def _beyond_set_point(place: Layout) -> Floats:
    """Tension [mbar] from which containers (N,) are starved: half-way from their set point to their dry limit.

    No emitter that works lets them come so far, and from there they take the water of days once they get some.
    """
    return _half_way(place, "set_point_mbar", "dry_limit_mbar")


def _half_way(place: Layout, one: str, other: str) -> Floats:
    rules = place.container_rules
    return np.asarray(0.5 * (rules.of(one) + rules.of(other)))


def _add(
    frame: Frame, place: Layout, signal: Signals, which: NDArray[np.int64], wet: Floats, starved: Floats, of: Floats
) -> None:
    """Add what containers (N,) drink to each reservoir's (R,), that of wet and starved ones to theirs (R, hours)."""
    near = near_set_point(place)[which, np.newaxis]
    dry = _beyond_set_point(place)[which, np.newaxis]
    highest = cut(frame.coarse, signal.row[which], place.tension.since[which], None, "high")
    with np.errstate(invalid="ignore"):
        # Near nothing, a probe may have lost its water, in a pot that is very dry.
        is_wet = (highest < near) & (highest >= c.WET_TELLS_MBAR)
        is_starved = (highest > dry) | (highest < c.WET_TELLS_MBAR)
        rise = np.diff(highest, axis=1)
        dries = (highest[:, :-1] >= near) & (rise > 0.0) & (rise <= c.UPTAKE_RISE_MBAR)
        hours = (highest >= near).sum(axis=1)
    speed = np.fmax(np.where(dries, rise, 0.0).sum(axis=1) / np.maximum(hours, 1), c.LEAST_SPEED_MBAR_PER_H)
    those = np.flatnonzero(hours)
    those = those[np.argsort(place.reservoir_of[which[those]], kind="stable")]
    reservoir, weight = place.reservoir_of[which[those]], (place.stands_for[which] * speed)[those]
    add_by(wet, reservoir, is_wet[those] * weight[:, np.newaxis])
    add_by(starved, reservoir, is_starved[those] * weight[:, np.newaxis])
    add_by(of, reservoir, weight)

"""reservoir-leak: water leaves, hour after hour, that nothing takes.

A leak runs day and night at one rate. So what leaves beyond usual must be there in every part of the last hours, which
a warm afternoon, later lights or a line that catches up do not do. Not here: an emitter stuck open (`sudden_wetting`),
which explains it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import constants as c
from wickwatch.detect.clock import after, moment
from wickwatch.detect.evidence import rounded
from wickwatch.detect.excess import Excess, excess
from wickwatch.detect.finding import Finding, Key
from wickwatch.detect.reservoir_low import outlook
from wickwatch.detect.sight import Sight, subject
from wickwatch.detect.window import numbers


@dataclass(frozen=True)
class _Steady:
    """N reservoirs as of some hours ago: litres per hour in the least and over all parts; `leaks` beyond chance."""

    l_per_h: NDArray[np.float64]
    beyond: NDArray[np.float64]
    leaks: NDArray[np.bool_]


def find(sight: Sight) -> list[Finding]:
    """Findings of reservoirs that lose water; those with a silent level sensor or just worked on are left out."""
    settles = sight.settling.reservoir_until > sight.as_of
    which = np.flatnonzero(sight.level.known & ~settles)
    if not len(which):
        return []
    now = _steady(sight, which, 0.0)
    leaks = now.leaks.copy()
    # Once seen, it goes on while more than usual leaves, though not every part shows it.
    with np.errstate(invalid="ignore"):
        perhaps = np.flatnonzero(~leaks & (now.beyond >= c.LEAK_HOLD_SIGMAS))
    for back in c.LEAK_LOOK_BACK_H if len(perhaps) else ():
        leaks[perhaps] |= _steady(sight, which[perhaps], back).leaks
    found = np.flatnonzero(leaks)
    if not len(found):
        return []
    hours = outlook(sight, which[found]).hours.value
    rates = now.l_per_h[found]
    return [
        _finding(sight, int(which[n]), float(rate), float(left))
        for n, rate, left in zip(found, rates, hours, strict=True)
    ]


def _steady(sight: Sight, which: NDArray[np.int64], until_h: float) -> _Steady:
    # The whole and its parts in one go: row 0 is the whole, the others are its parts, the newest first.
    hours = np.array([c.LEAK_PARTS * c.LEAK_PART_H, *[c.LEAK_PART_H] * c.LEAK_PARTS])
    until = until_h + c.LEAK_PART_H * np.array([0, *range(c.LEAK_PARTS)])
    every = excess(sight, np.tile(which, len(hours)), np.repeat(hours, len(which)), np.repeat(until, len(which)))
    whole = Excess(*(getattr(every, name)[: len(which)] for name in Excess.__dataclass_fields__))
    least = every.l_per_h[len(which) :].reshape(c.LEAK_PARTS, -1).min(axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        beyond = (whole.drawn_l - whole.usual_l) / whole.sigma_l
        even = least >= c.LEAK_EVEN * whole.l_per_h
        # Only hours since a refill count, and they must be most of the time asked for.
        long = whole.hours >= c.LEAK_PARTS * c.LEAK_PART_H - 0.5
        leaks = long & even & (beyond >= c.LEAK_SIGMAS) & (whole.l_per_h >= c.EXCESS_LEAST_L_PER_H)
        leaks &= whole.l_per_h >= c.LEAK_SHARE * whole.usual_l / whole.hours
    return _Steady(whole.l_per_h, beyond, np.asarray(leaks))


def _finding(sight: Sight, number: int, l_per_h: float, hours: float) -> Finding:
    place = sight.place
    reservoir = place.reservoirs[number]
    wet = sight.tension.value < place.container_rules.of("wet_limit_mbar")
    causes: tuple[Key, ...] = tuple(
        ("sudden-wetting", place.containers[n].id) for n in numbers(wet & (place.reservoir_of == number))
    )
    return Finding(
        kind="reservoir-leak",
        subject=subject(reservoir),
        room_id=place.rooms[place.reservoir_room[number]].id,
        since=moment(sight.as_of - np.timedelta64(round(3600 * c.LEAK_PARTS * c.LEAK_PART_H), "s")),
        evidence={
            "leak_l_per_h": rounded(l_per_h, 2),
            "level_mm": rounded(sight.levels.last_mm[number]),
            "hours_to_empty": rounded(hours),
        },
        harm_at=after(sight.as_of, hours),
        explained_by=causes,
    )

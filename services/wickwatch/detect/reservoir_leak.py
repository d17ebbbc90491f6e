"""reservoir-leak: water leaves, hour after hour, that nothing takes.

A leak runs day and night at one rate. So what leaves beyond usual must be there in every part of the last hours, which
a warm afternoon, later lights or a line that catches up do not do. One far beyond chance is told in fewer hours. Not
here: an emitter stuck open (`sudden_wetting`), which explains it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import constants as c
from wickwatch.detect.clock import after, moment
from wickwatch.detect.evidence import rounded
from wickwatch.detect.excess import excess
from wickwatch.detect.finding import Finding, Key
from wickwatch.detect.reservoir_low import outlook
from wickwatch.detect.sight import Sight, subject
from wickwatch.detect.window import numbers


@dataclass(frozen=True)
class _Steady:
    """N reservoirs as of some hours ago: litres per hour `beyond` usual, in standard errors, too; `leaks` by a look."""

    l_per_h: NDArray[np.float64]
    beyond: NDArray[np.float64]
    leaks: NDArray[np.bool_]


def find(sight: Sight) -> list[Finding]:
    """Findings of reservoirs that lose water; those with a silent level sensor or just worked on are left out."""
    settles = sight.settling.reservoir_until > sight.as_of
    which = np.flatnonzero(sight.level.known & ~settles)
    if not len(which):
        return []
    looks = [_steady(sight, which, look, 0.0) for look in c.LEAK_LOOKS]
    by_look = np.stack([each.leaks for each in looks])
    leaks = np.logical_or.reduce(by_look, axis=0)
    # Once seen, it goes on while more than usual leaves, though not every part shows it.
    longest = looks[0]
    with np.errstate(invalid="ignore"):
        perhaps = np.flatnonzero(~leaks & (longest.beyond >= c.LEAK_HOLD_SIGMAS))
    for back in c.LEAK_LOOK_BACK_H if len(perhaps) else ():
        for look in c.LEAK_LOOKS:
            leaks[perhaps] |= _steady(sight, which[perhaps], look, back).leaks
    found = np.flatnonzero(leaks)
    if not len(found):
        return []
    hours = outlook(sight, which[found]).hours.value
    # A leak younger than the longest look is only part of what left in it.
    most = np.fmax.reduce(np.stack([each.l_per_h for each in looks]), axis=0)
    rates = np.where(longest.leaks, longest.l_per_h, most)[found]
    parts_h = np.array([part_h for part_h, _ in c.LEAK_LOOKS])[np.argmax(by_look, axis=0)][found]
    return [
        _finding(sight, int(which[n]), float(rate), float(left), c.LEAK_PARTS * float(part_h))
        for n, rate, left, part_h in zip(found, rates, hours, parts_h, strict=True)
    ]


def _steady(sight: Sight, which: NDArray[np.int64], look: tuple[float, float], until_h: float) -> _Steady:
    """Judge reservoirs by a look: hours of each part, and by how many standard errors the whole must be beyond chance.

    The parts are asked only where the whole is.
    """
    part_h, sigmas = look
    whole = excess(sight, which, c.LEAK_PARTS * part_h, until_h)
    with np.errstate(invalid="ignore", divide="ignore"):
        beyond = (whole.drawn_l - whole.usual_l) / whole.sigma_l
        # Only hours since a refill count, and they must be most of the time asked for.
        leaks = (whole.hours >= c.LEAK_PARTS * part_h - 0.5) & (beyond >= sigmas)
        leaks &= whole.l_per_h >= np.fmax(c.LEAK_LEAST_L_PER_H, c.LEAK_SHARE * whole.usual_l / whole.hours)
    asked = np.flatnonzero(leaks)
    if len(asked):
        until = np.repeat(until_h + part_h * np.arange(c.LEAK_PARTS), len(asked))
        parts = excess(sight, np.tile(which[asked], c.LEAK_PARTS), part_h, until).l_per_h.reshape(c.LEAK_PARTS, -1)
        leaks[asked] = parts.min(axis=0) >= c.LEAK_EVEN * whole.l_per_h[asked]
    return _Steady(whole.l_per_h, beyond, np.asarray(leaks))


def _finding(sight: Sight, number: int, l_per_h: float, hours: float, since_h: float) -> Finding:
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
        since=moment(sight.as_of - np.timedelta64(round(3600 * since_h), "s")),
        evidence={
            "leak_l_per_h": rounded(l_per_h, 2),
            "level_mm": rounded(sight.levels.last_mm[number]),
            "hours_to_empty": rounded(hours),
        },
        harm_at=after(sight.as_of, hours),
        explained_by=causes,
    )

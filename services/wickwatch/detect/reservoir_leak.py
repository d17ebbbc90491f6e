"""reservoir-leak: water leaves, hour after hour, that nothing takes.

A leak runs day and night at one rate. So what leaves beyond usual must be there in every part of the last hours, which
a warm afternoon, later lights or a line that catches up do not do. One far beyond chance is told in fewer hours. A
refill in them hides one part and not what came before it. Not here: an emitter stuck open (`sudden_wetting`), which
explains it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.clock import after, moment
from wickwatch.detect.drought import takes_l
from wickwatch.detect.evidence import rounded
from wickwatch.detect.excess import Excess, excess
from wickwatch.detect.finding import Finding, Key
from wickwatch.detect.reservoir_low import outlook
from wickwatch.detect.sight import Sight, subject
from wickwatch.detect.window import numbers


@dataclass(frozen=True)
class _Steady:
    """N reservoirs as of some hours ago: litres per hour `beyond` usual, in standard errors, too; `leaks` by a look.

    `spare_l` is how much less might have left for it to be one still.
    """

    l_per_h: NDArray[np.float64]
    beyond: NDArray[np.float64]
    leaks: NDArray[np.bool_]
    spare_l: NDArray[np.float64]


def find(sight: Sight) -> list[Finding]:
    """Findings of reservoirs that lose water; those with a silent level sensor or just worked on are left out."""
    settles = sight.settling.reservoir_until > sight.as_of
    which = np.flatnonzero(sight.level.known & ~settles)
    if not len(which):
        return []
    looks = [_steady(sight, which, look, 0.0) for look in c.LEAK_LOOKS]
    by_look = np.stack([each.leaks for each in looks])
    leaks = np.logical_or.reduce(by_look, axis=0)
    longest = looks[0]
    leaks |= _goes_on(sight, which, leaks, longest.beyond)
    found = np.flatnonzero(leaks)
    # Containers back from drought take much for hours, but no more than they hold.
    spare_l = np.max([np.where(each.leaks, each.spare_l, 0.0) for each in looks], axis=0)
    found = found[takes_l(sight, which[found]) <= spare_l[found]]
    if not len(found):
        return []
    hours = outlook(sight, which[found]).hours.value
    # A leak younger than the longest look is only part of what left in it.
    most = np.fmax.reduce(np.stack([each.l_per_h for each in looks]), axis=0)
    rates = np.where(longest.leaks, longest.l_per_h, most)[found]
    parts_h = np.array([part_h for part_h, *_ in c.LEAK_LOOKS])[np.argmax(by_look, axis=0)][found]
    return [
        _finding(sight, int(which[n]), float(rate), float(left), c.LEAK_PARTS * float(part_h))
        for n, rate, left, part_h in zip(found, rates, hours, parts_h, strict=True)
    ]


def runs_on(sight: Sight) -> NDArray[np.int64]:
    """Numbers of reservoirs of which far more leaves in the quiet hours of the last day than did days ago.

    No leak is found by it; but one that was found has not ended, though what leaves has become usual. Nor is it said to
    have where days differ too much to tell of any, as they do when a reservoir ran dry by its leak and was filled.
    """
    least = sight.usual_draw.least_l_per_h
    more = least[:, -1] - nanmedian(least[:, : -1 - c.LEAK_RUNS_ON_DAYS])
    with np.errstate(invalid="ignore"):
        runs = (more >= c.LEAK_RUNS_ON_L_PER_H) | (sight.usual_draw.all_days_differ > c.LEAK_DIFFER_MOST)
    return np.flatnonzero(sight.level.known & runs)


def _goes_on(
    sight: Sight, which: NDArray[np.int64], leaks: NDArray[np.bool_], beyond: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Where a leak was seen hours ago and has gone on since (N,): more than usual left, though not every part shows it.

    `beyond` (N,) are the standard errors of the longest look now. What ended and comes again has to be seen again.
    """
    goes_on = np.zeros(len(which), dtype=np.bool_)
    with np.errstate(invalid="ignore"):
        perhaps = np.flatnonzero(~leaks & (beyond >= c.LEAK_HOLD_SIGMAS))
    for back in c.LEAK_LOOK_BACK_H:
        if not len(perhaps):
            break
        looks = [_steady(sight, which[perhaps], look, back) for look in c.LEAK_LOOKS]
        seen = np.logical_or.reduce([each.leaks for each in looks], axis=0)
        goes_on[perhaps] = seen
        with np.errstate(invalid="ignore"):
            perhaps = perhaps[~seen & (looks[0].beyond >= c.LEAK_HOLD_SIGMAS)]
    return goes_on


def _steady(sight: Sight, which: NDArray[np.int64], look: tuple[float, float, float], until_h: float) -> _Steady:
    """Judge reservoirs by a look: hours of each part, by how many standard errors the whole must be beyond chance, and
    how many litres an hour it must be.

    The parts are asked only where the whole is. Where a refill lies in it, the whole is the parts before and after.
    """
    part_h, sigmas, least_l_per_h = look
    whole = excess(sight, which, c.LEAK_PARTS * part_h, until_h)
    least = np.full(len(which), np.nan)
    filled = np.flatnonzero(whole.hours < c.LEAK_PARTS * part_h - 0.5)
    if len(filled):
        parts = _parts(sight, which[filled], part_h, until_h)
        whole, least[filled] = _put(whole, filled, _together(parts)), parts.l_per_h.min(axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        beyond = (whole.drawn_l - whole.usual_l) / whole.sigma_l
        # Of less than most of the time asked for nothing is told.
        leaks = (whole.hours >= c.LEAK_PARTS * part_h - 0.5) & (beyond >= sigmas)
        leaks &= ~(sight.draws.all_days_differ[which] > c.LEAK_DIFFER_MOST)
        least_beyond_l = np.fmax(least_l_per_h * whole.hours, c.LEAK_SHARE * whole.usual_l)
        leaks &= whole.drawn_l - whole.usual_l >= least_beyond_l
    asked = np.flatnonzero(leaks & np.isnan(least))
    if len(asked):
        least[asked] = _parts(sight, which[asked], part_h, until_h).l_per_h.min(axis=0)
    with np.errstate(invalid="ignore"):
        leaks &= least >= c.LEAK_EVEN * whole.l_per_h
    spare_l = whole.drawn_l - whole.usual_l - np.fmax(least_beyond_l, sigmas * whole.sigma_l)
    return _Steady(whole.l_per_h, beyond, np.asarray(leaks), spare_l)


def _parts(sight: Sight, which: NDArray[np.int64], part_h: float, until_h: float) -> Excess:
    """The newest parts of so many hours of reservoirs (N,) in which no refill lies, all (LEAK_PARTS, N).

    NaN where there are fewer, of two more than are asked for.
    """
    count = c.LEAK_PARTS + 2
    until = np.repeat(until_h + part_h * np.arange(count), len(which))
    each = excess(sight, np.tile(which, count), part_h, until)
    clear = (each.hours >= part_h - 0.25).reshape(count, -1)
    first = np.argsort(~clear, axis=0, kind="stable")[: c.LEAK_PARTS]  # the clear ones, the newest first
    missing = ~np.take_along_axis(clear, first, axis=0)

    def chosen(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.where(missing, np.nan, np.take_along_axis(values.reshape(count, -1), first, axis=0))

    taken = {name: chosen(getattr(each, name)) for name in ("hours", "drawn_l", "usual_l", "l_per_h", "sigma_l")}
    return Excess(**taken, significant=np.take_along_axis(each.significant.reshape(count, -1), first, axis=0))


def _together(parts: Excess) -> Excess:
    """What left reservoirs in their parts (LEAK_PARTS, N) as one whole (N,); NaN where there are too few."""
    hours, drawn, usual = (each.sum(axis=0) for each in (parts.hours, parts.drawn_l, parts.usual_l))
    # Parts of one day are off together in part, as its hours are.
    together, apart = parts.sigma_l.sum(axis=0) ** 2, (parts.sigma_l**2).sum(axis=0)
    sigma = np.sqrt(c.HOURS_ALIKE * together + (1.0 - c.HOURS_ALIKE) * apart)
    return Excess(hours, drawn, usual, (drawn - usual) / hours, sigma, np.asarray(parts.significant.all(axis=0)))


def _put(whole: Excess, where: NDArray[np.int64], other: Excess) -> Excess:
    """`whole` with what is known of some reservoirs in its place."""
    known = np.isfinite(other.hours)
    arrays = {name: value.copy() for name, value in vars(whole).items()}
    for name, value in arrays.items():
        value[where[known]] = getattr(other, name)[known]
    return Excess(**arrays)


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

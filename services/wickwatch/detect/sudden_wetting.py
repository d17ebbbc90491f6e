"""sudden-wetting: a container falls through its wet limit, further than its waterings take it, and does not recover.

The fall is unusual by the container's own waterings (`fall`). Whose water it is tells the rest: it comes as steadily as
an emitter gives, or more than usual leaves the reservoir since the fall began: an emitter stuck open, called at once.
Others of the room or line falling with it: watered by hand, or a line that catches up. Otherwise somebody poured, and
the container is only watched. A fall that can't be water is the probe's (`believable`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.believable import emptied, out_of_range
from wickwatch.detect.clock import after, moment
from wickwatch.detect.evidence import rounded
from wickwatch.detect.excess import excess
from wickwatch.detect.fall import Falls, at_the_same_time, falls, steady_min
from wickwatch.detect.finding import Finding
from wickwatch.detect.flood import hours_to_flood
from wickwatch.detect.habits import habits
from wickwatch.detect.layout import NONE
from wickwatch.detect.probe_fault import stuck_levels
from wickwatch.detect.sight import Sight, subject
from wickwatch.detect.window import bridged, cut, numbers

_FINE_MIN = 5.0


@dataclass(frozen=True)
class _Wetted:
    """All containers of rooms in which one is near or below its wet limit: `which` are their numbers, the rest is (N,).

    `fell` are those that water took unusually far, `suspect` those of them that may be findings. `crossed_min` are
    minutes since the wet limit was passed.
    """

    which: NDArray[np.int64]
    fine: NDArray[np.float32]
    now_mbar: NDArray[np.float64]
    falls: Falls
    fell: NDArray[np.bool_]
    suspect: NDArray[np.bool_]
    crossed_min: NDArray[np.float64]


def find(sight: Sight) -> list[Finding]:
    """Findings of containers that are wetted and do not recover; settling and silent ones are left out."""
    seen = _wetted(sight)
    if seen is None or not seen.suspect.any():
        return []
    suspects = np.flatnonzero(seen.suspect & ~_together(sight, seen) & ~_recovers(seen))
    if not len(suspects):
        return []
    source = _sources(sight, seen, suspects)
    return [_finding(sight, seen, source, k, int(suspects[k])) for k in numbers(source.flows)]


def _wetted(sight: Sight) -> _Wetted | None:
    place, frame = sight.place, sight.frame
    known = sight.tension.known & ~(sight.settling.container_until > sight.as_of)
    limit = place.container_rules.of("wet_limit_mbar")
    rows, since = sight.tension.row, place.tension.since
    last = cut(frame.fine, rows, since, 4)
    newest = _newest(last)
    with np.errstate(invalid="ignore"):
        ahead = np.nan_to_num(np.fmin(newest - last[:, 0], 0.0)) * (c.WETTING_AHEAD_MIN / 15.0)
        near = known & (newest + ahead < limit)
    if not near.any():
        return None
    seen = _look(sight, np.flatnonzero(near), newest, near)
    suspect = seen.suspect & ~_recovers(seen)
    if not suspect.any():
        return None
    # Whether others fell with it is asked only where one is suspect.
    room = np.zeros(len(place.rooms), dtype=np.bool_)
    room[place.room_of[seen.which[suspect]]] = True
    return _look(sight, np.flatnonzero(sight.tension.known & room[place.room_of]), newest, near)


def _look(sight: Sight, which: NDArray[np.int64], newest: NDArray[np.float64], near: NDArray[np.bool_]) -> _Wetted:
    place, frame = sight.place, sight.frame
    rows, since = sight.tension.row, place.tension.since
    limit = place.container_rules.of("wet_limit_mbar")
    fine = cut(frame.fine, rows[which], since[which])
    hourly = cut(frame.coarse, rows[which], since[which])
    gap = np.ceil(3 * np.nan_to_num(place.tension.interval_s[which], nan=300.0) / 300.0).astype(np.int64)
    whole = bridged(fine, gap)
    near_limit = np.fmax(limit[which], newest[which] + 0.01)  # a fall still above the limit ends now
    seen = falls(whole, habits(sight, which).usual_fall, near_limit)
    fell = seen.unusual & ~(out_of_range(whole) | emptied(whole, hourly))
    over = whole >= limit[which][:, np.newaxis]
    crossed = np.where(over.any(axis=1), np.argmax(over[:, ::-1], axis=1), whole.shape[1])
    return _Wetted(
        which,
        whole,
        nanmedian(whole[:, -c.NOW_STEPS :]),
        seen,
        fell,
        near[which] & fell,
        _FINE_MIN * crossed,
    )


def _newest(last: NDArray[np.float32]) -> NDArray[np.float64]:
    """The newest value of each row, NaN for none."""
    newest = np.full(len(last), np.nan)
    for column in range(last.shape[1]):
        newest = np.where(np.isfinite(last[:, column]), last[:, column], newest)
    return newest


def _together(sight: Sight, seen: _Wetted) -> NDArray[np.bool_]:
    """Where many containers of a room fell at about the same time: somebody walked round, or the line catches up."""
    room = sight.place.room_of[seen.which]
    others = at_the_same_time(room, seen.falls.steepest, seen.fell)
    total = np.bincount(room, minlength=len(sight.place.rooms))[room]
    return np.asarray((others >= c.FELL_TOGETHER_LEAST) & (others >= c.FELL_TOGETHER_SHARE * total))


@dataclass(frozen=True)
class _Sources:
    """Water that goes on coming to S containers, all (S,): `flows` where it does, how many l/h beyond usual and litres
    so far, NaN where no level tells.
    """

    flows: NDArray[np.bool_]
    l_per_h: NDArray[np.float64]
    litres: NDArray[np.float64]
    steady_min: NDArray[np.float64]


def _sources(sight: Sight, seen: _Wetted, n: NDArray[np.int64]) -> _Sources:
    """Whether an emitter waters each of the containers still, and how much; `n` are places in `seen`."""
    since_min = _min_since(seen.falls.onset, seen)[n]
    steady = steady_min(seen.fine[n], seen.falls.began[n], seen.falls.bottom[n])
    was_dry = _was_dry(sight, seen)[n]
    reservoir = sight.place.reservoir_of[seen.which[n]]
    tells = _level_tells(sight, reservoir)
    found = _Sources(np.zeros(len(n), dtype=np.bool_), np.full(len(n), np.nan), np.full(len(n), np.nan), steady)
    blind = ~tells & ~was_dry & (steady >= c.STEADY_BLIND_MIN)
    found.flows[blind] = since_min[blind] <= 60 * c.BLIND_HOURS
    # A pot back from drought is flooded by its own emitter for a while: only what comes after that counts.
    late_min = seen.crossed_min[n] - c.OVERSHOOT_MIN
    dry = np.flatnonzero(tells & was_dry & (late_min >= c.SHORTEST_MIN))
    if len(dry):
        late = excess(sight, reservoir[dry], late_min[dry] / 60.0)
        found.flows[dry] = late.significant
        found.l_per_h[dry], found.litres[dry] = late.l_per_h, late.drawn_l - late.usual_l
    rest = np.flatnonzero(tells & ~was_dry)
    if len(rest):
        shown, l_per_h, litres = _first(sight, reservoir[rest], since_min[rest] / 60.0, steady[rest])
        now = excess(sight, reservoir[rest], c.STILL_HOURS).l_per_h
        long = since_min[rest] > 60.0 * (c.STILL_HOURS + 1.0)
        goes_on = now >= np.maximum(c.STILL_SHARE * l_per_h, c.EXCESS_LEAST_L_PER_H)
        found.flows[rest] = shown & (~long | goes_on)
        found.l_per_h[rest], found.litres[rest] = np.where(long, now, l_per_h), litres
    return found


def _level_tells(sight: Sight, reservoir: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether reservoirs have a level sensor that speaks and moves, and enough history to compare with."""
    stuck = list(stuck_levels(sight))
    tells = (reservoir != NONE) & np.append(sight.level.known, False)[reservoir] & ~np.isin(reservoir, stuck)
    usual = np.isfinite(sight.draws.usual_l_per_h).all(axis=1)
    return np.asarray(tells & np.append(usual, False)[reservoir])


def _first(
    sight: Sight, reservoir: NDArray[np.int64], since_h: NDArray[np.float64], steady_min: NDArray[np.float64]
) -> tuple[NDArray[np.bool_], NDArray[np.float64], NDArray[np.float64]]:
    """Water that left reservoirs in the first hours of falls: where it shows, l/h and litres, all of shape (S,).

    Any of some spans may show it: where the fall itself looks like an emitter's, or, as long as that can't be told yet,
    where clearly more is drawn than the little that is usual.
    """
    longest = np.minimum(since_h, c.WETTING_SPANS_H[-1])[:, np.newaxis]
    spans = np.concatenate(
        [np.broadcast_to(c.WETTING_SPANS_H, (len(since_h), len(c.WETTING_SPANS_H))), longest], axis=1
    )
    used = spans <= longest
    row = np.nonzero(used)[0]
    seen = excess(sight, reservoir[row], spans[used], since_h[row] - spans[used])
    beyond = seen.drawn_l - seen.usual_l
    with np.errstate(invalid="ignore"):
        quiet = seen.significant & (beyond >= c.QUIET_FACTOR * seen.usual_l)
        quiet &= 60.0 * since_h[row] <= c.SHAPE_TOLD_MIN
        alike = (steady_min[row] >= c.STEADY_MIN) & (beyond >= c.STEADY_NEEDS_SIGMAS * seen.sigma_l)
    shown = np.zeros(len(since_h), dtype=np.bool_)
    np.logical_or.at(shown, row, quiet | alike)
    last = np.cumsum(used.sum(axis=1)) - 1  # the longest span of each
    return shown, seen.l_per_h[last], beyond[last]


def _recovers(seen: _Wetted) -> NDArray[np.bool_]:
    """Where tension has risen clearly from its lowest since the fall: plants drink and nothing comes."""
    after = np.arange(seen.fine.shape[1]) >= seen.falls.bottom[:, np.newaxis]
    lowest = np.fmin.reduce(np.where(after, seen.fine, np.nan), axis=1)
    return np.asarray(seen.fine[:, -1] - lowest >= c.RECOVERS_MBAR)


def _was_dry(sight: Sight, seen: _Wetted) -> NDArray[np.bool_]:
    """Where the container stood well above its set point when the fall began."""
    start = np.maximum(seen.falls.onset, 0)
    before = np.take_along_axis(seen.fine, start[:, np.newaxis], axis=1)[:, 0]
    rule = sight.place.container_rules
    high = rule.of("set_point_mbar")[seen.which] + 0.5 * rule.of("fast_drying_mbar")[seen.which]
    with np.errstate(invalid="ignore"):
        return np.asarray(before > high)


def _min_since(column: NDArray[np.int64], seen: _Wetted) -> NDArray[np.float64]:
    return np.asarray(_FINE_MIN * (seen.fine.shape[1] - 1 - column))


def _finding(sight: Sight, seen: _Wetted, source: _Sources, k: int, n: int) -> Finding:
    """What is found of the suspect at place `k` of the sources and `n` of those seen."""
    l_per_h = float(source.l_per_h[k])
    place, number = sight.place, int(seen.which[n])
    container, fine = place.containers[number], sight.frame.fine
    flood_h = hours_to_flood(container, float(seen.now_mbar[n]), l_per_h)
    since = fine.start + max(int(seen.falls.onset[n]), 0) * fine.step
    return Finding(
        kind="sudden-wetting",
        subject=subject(container),
        room_id=place.rooms[place.room_of[number]].id,
        since=moment(since),
        evidence={
            "tension_mbar": rounded(seen.now_mbar[n]),
            "wet_limit_mbar": rounded(place.container_rules.of("wet_limit_mbar")[number]),
            "fall_mbar": rounded(seen.falls.depth_mbar[n]),
            "usual_fall_mbar": rounded(seen.falls.usual_mbar[n]),
            "steady_minutes": rounded(source.steady_min[k], 0),
            "excess_l_per_h": rounded(l_per_h),
            "excess_l": rounded(source.litres[k]),
            "hours_to_flood": rounded(flood_h),
        },
        harm_at=after(sight.as_of, flood_h),
        explained_by=(("probe-fault", container.id),),
    )

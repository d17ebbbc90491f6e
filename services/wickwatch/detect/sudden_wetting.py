"""sudden-wetting: a container falls through its wet limit, further than its waterings take it, and does not recover.

The fall is unusual by the container's own waterings (`fall`). Whose water it is tells the rest, by mass balance: an
emitter stuck open takes from the reservoir what the container gains, and its water keeps coming (`arrival`); it is
called at once. Others of the room falling with it: watered by hand, or a line that catches up. Water that did not leave
the reservoir, or that comes to an end, somebody poured: the container is only watched. A fall that can't be water is
the probe's (`believable`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.arrival import Arrival, arrival, gained
from wickwatch.detect.believable import emptied, leapt, leapt_before, out_of_range
from wickwatch.detect.clock import after, hours_since, moment
from wickwatch.detect.evidence import rounded
from wickwatch.detect.excess import Excess, against_share, excess, usual_share
from wickwatch.detect.fall import Falls, at_the_same_time, deepest_fall, falls
from wickwatch.detect.finding import Finding
from wickwatch.detect.flood import hours_to_flood
from wickwatch.detect.habits import habits
from wickwatch.detect.layout import NONE
from wickwatch.detect.probe_fault import stuck_levels
from wickwatch.detect.sight import Sight, subject
from wickwatch.detect.stays_wet import stays_wet
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
    suspects = _suspects(sight)
    return [] if suspects is None else [_finding(sight, suspects, k) for k in numbers(suspects.source.flows)]


def wet_still(sight: Sight) -> NDArray[np.int64]:
    """Numbers of containers that fell unusually far within the last two days and have not recovered, though no water is
    seen to come now.

    Of those that were found it is not over: while others of the room drink less, what their emitter gives is not seen.
    """
    suspects = _suspects(sight)
    if suspects is None:
        return np.array([], dtype=np.int64)
    return suspects.seen.which[suspects.n[~suspects.source.flows]]


@dataclass(frozen=True)
class _Suspects:
    """Containers that fell unusually far, alone, and have not recovered: places `n` (S,) in what is seen, and whence
    their water comes.
    """

    seen: _Wetted
    n: NDArray[np.int64]
    source: _Sources


def _suspects(sight: Sight) -> _Suspects | None:
    """All there are, None where there is none; looked for once in a sweep."""

    def looked_for() -> _Suspects | None:
        seen = _wetted(sight)
        if seen is None or not seen.suspect.any():
            return None
        n = np.flatnonzero(seen.suspect & ~_together(sight, seen) & ~_recovers(seen))
        # Where a level tells, mass balance says later whether one of them is an emitter's.
        others_fell = _fell_with(sight, seen, n, c.FELL_TOGETHER_SHARE)
        n = n[_level_tells(sight, sight.place.reservoir_of[seen.which[n]]) | ~others_fell]
        return _Suspects(seen, n, _sources(sight, seen, n)) if len(n) else None

    return sight.once("wetted", looked_for)


def _wetted(sight: Sight) -> _Wetted | None:
    place, frame = sight.place, sight.frame
    # A can's water has spread and drained within the hours in which containers settle; what falls later is no can's.
    known = sight.tension.known & ~(sight.settling.reworked_until > sight.as_of) & ~(_drained_at(sight) > sight.as_of)
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
    # Those that have fallen silent since tell of it, too: behind one gateway they all do, within minutes.
    spoke = np.isfinite(sight.tension.value) & (hours_since(sight.tension.at, sight.as_of) <= c.BLIND_HOURS)
    return _look(sight, np.flatnonzero(spoke & room[place.room_of]), newest, near)


def _look(sight: Sight, which: NDArray[np.int64], newest: NDArray[np.float64], near: NDArray[np.bool_]) -> _Wetted:
    place, frame = sight.place, sight.frame
    rows, since = sight.tension.row, place.tension.since
    limit = place.container_rules.of("wet_limit_mbar")
    fine = cut(frame.fine, rows[which], since[which])
    hourly = cut(frame.coarse, rows[which], since[which])
    whole = bridged(fine, _buckets(sight, which, 3))
    near_limit = np.fmax(limit[which], newest[which] + 0.01)  # a fall still above the limit ends now
    drained = np.ceil((_drained_at(sight)[which] - frame.fine.start) / frame.fine.step)
    later = np.clip(np.nan_to_num(drained, nan=-1.0), -1, whole.shape[1] - 1).astype(np.int64)
    seen = falls(whole, habits(sight, which).usual_fall, near_limit, later)
    fell = seen.unusual & ~(out_of_range(whole) | emptied(whole, hourly) | leapt_before(whole, seen.onset))
    # Where a probe was put elsewhere how deep its waterings go is not known yet.
    moved = leapt(whole[:, -c.LEAP_DAY_STEPS - c.LEAP_STEPS :], hourly, c.LEAP_DAY_STEPS)
    fell &= ~moved | (seen.depth_mbar > c.FALL_BEYOND_LEAPT * seen.usual_mbar)
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


def _buckets(sight: Sight, which: NDArray[np.int64], readings: int) -> NDArray[np.int64]:
    """How many fine buckets so many readings of containers `which` (N,) take."""
    interval_min = np.nan_to_num(sight.place.tension.interval_s[which], nan=60 * _FINE_MIN) / 60.0
    return np.ceil(readings * interval_min / _FINE_MIN).astype(np.int64)


def _drained_at(sight: Sight) -> NDArray[np.datetime64]:
    """When water that was given by hand has drained (N,), NaT where none was."""
    hours = sight.place.container_rules.of("settled_hours")
    return np.asarray(sight.settling.watered_at + (3.6e9 * hours).astype("timedelta64[us]"))


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
    return _many(others, np.bincount(room, minlength=len(sight.place.rooms))[room])


def _many(fell: NDArray[np.int64], of: NDArray[np.int64], share: float = c.FELL_TOGETHER_SHARE) -> NDArray[np.bool_]:
    return np.asarray((fell >= c.FELL_TOGETHER_LEAST) & (fell >= share * of))


def _fell_with(sight: Sight, seen: _Wetted, n: NDArray[np.int64], share: float) -> NDArray[np.bool_]:
    """Where that share of the room fell within half an hour of the falls at places `n` (S,), be they dry again."""
    room = sight.place.room_of[seen.which]
    fell, of = np.zeros(len(n), dtype=np.int64), np.zeros(len(n), dtype=np.int64)
    for k, place in enumerate(n):  # few
        here, at = np.flatnonzero(room == room[place]), int(seen.falls.steepest[place])
        around = seen.fine[here, max(at - c.FELL_WITH_STEPS, 0) : at + c.FELL_WITH_STEPS + 1]
        fell[k] = (deepest_fall(around) > c.FALL_BEYOND * seen.falls.usual_mbar[here]).sum()
        of[k] = len(here)
    return _many(fell, of, share)


@dataclass(frozen=True)
class _Sources:
    """Water that goes on coming to S containers, all (S,): `flows` where it does, how many l/h beyond usual and litres
    so far, NaN where no level tells; and how it `arrived`.
    """

    flows: NDArray[np.bool_]
    l_per_h: NDArray[np.float64]
    litres: NDArray[np.float64]
    arrived: Arrival


def _sources(sight: Sight, seen: _Wetted, n: NDArray[np.int64]) -> _Sources:
    """Whether an emitter waters each of the containers still, and how much; `n` are places in `seen`."""
    since_min = _min_since(seen.falls.onset, seen)[n]
    pots = [sight.place.containers[number] for number in seen.which[n]]
    apart = _buckets(sight, seen.which[n], 1)
    arrived = arrival(pots, seen.fine[n], seen.falls.onset[n], seen.falls.bottom[n], apart)
    was_dry = _was_dry(sight, seen)[n]
    reservoir = sight.place.reservoir_of[seen.which[n]]
    tells = _level_tells(sight, reservoir)
    found = _Sources(np.zeros(len(n), dtype=np.bool_), np.full(len(n), np.nan), np.full(len(n), np.nan), arrived)
    blind = np.flatnonzero(~tells & ~was_dry & (since_min <= 60 * c.BLIND_HOURS))
    if len(blind):
        at = n[blind]
        stays = stays_wet(sight, seen.which[at], seen.fine[at], seen.falls.onset[at])
        found.flows[blind] = stays | (arrived.steady_min[blind] >= c.STEADY_BLIND_MIN)
    # A pot back from drought is flooded by its own emitter for a while: only what comes after that counts.
    late_min = seen.crossed_min[n] - c.OVERSHOOT_MIN
    sodden = seen.now_mbar[n] <= c.SODDEN_MBAR
    dry = np.flatnonzero(tells & was_dry & (late_min >= c.SHORTEST_MIN))
    if len(dry):
        late_h = late_min[dry] / 60.0
        late = excess(sight, reservoir[dry], np.minimum(late_h, c.STILL_HOURS))
        found.flows[dry] = late.significant & (arrived.comes[dry] | sodden[dry])
        still = np.flatnonzero(found.flows[dry])
        gone = _gone(sight, reservoir[dry[still]], late_h[still], _before(sight, reservoir[dry[still]], late_h[still]))
        whole = np.ones(len(still))
        found.flows[dry[still]] = ~_stopped(sight, reservoir[dry[still]], late_h[still], gone.l_per_h, whole)
        found.l_per_h[dry], found.litres[dry] = late.l_per_h, late.drawn_l - late.usual_l
    rest = np.flatnonzero(tells & ~was_dry)
    if len(rest):
        since_h = since_min[rest] / 60.0
        before = _before(sight, reservoir[rest], since_h)
        others_l = _others_l(sight, seen, n[rest])
        gone = _without(_gone(sight, reservoir[rest], since_h, before), others_l)
        with np.errstate(invalid="ignore"):
            alone = ~(others_l >= c.GAIN_ALONE * arrived.gained_l[rest])
        # Most of the room falls with it, not far enough yet to be sure: somebody may be walking round.
        alone &= ~_fell_with(sight, seen, n[rest], c.FELL_WITH_SHARE)
        shown = _shown(gone, arrived, rest, sodden[rest], since_min[rest], alone)
        share = np.where(since_h <= c.QUIET_MOST_H, usual_share(before), 1.0)
        now = against_share(excess(sight, reservoir[rest], c.STILL_HOURS), share)
        long = since_h > c.STILL_HOURS + 1.0
        goes_on = now.l_per_h >= np.maximum(c.STILL_SHARE * gone.l_per_h, c.EXCESS_LEAST_L_PER_H)
        goes_on &= now.drawn_l - now.usual_l >= c.STILL_SIGMAS * now.sigma_l
        found.flows[rest] = shown & (~long | goes_on)
        still = np.flatnonzero(found.flows[rest] & long)
        found.flows[rest[still]] = ~_stopped(
            sight, reservoir[rest[still]], since_h[still], gone.l_per_h[still], share[still]
        )
        found.l_per_h[rest] = np.where(long, now.l_per_h, gone.l_per_h)
        found.litres[rest] = gone.drawn_l - gone.usual_l
    return found


def _before(sight: Sight, reservoir: NDArray[np.int64], since_h: NDArray[np.float64]) -> Excess:
    """What left reservoirs (S,) in the hours before falls that began `since_h` hours ago."""
    return excess(sight, reservoir, c.WETTING_BEFORE_H, since_h)


def _gone(sight: Sight, reservoir: NDArray[np.int64], since_h: NDArray[np.float64], before: Excess) -> Excess:
    """What left reservoirs (S,) in the first hours of falls that began `since_h` hours ago, and not `before` them.

    What was leaving beyond usual before the fall, by a leak or on a hot day, goes on without it and is not counted.
    Where the reservoir was refilled in those hours, as many are looked at from then on, or as there are.
    """
    span = np.minimum(since_h, c.WETTING_SPAN_H)
    first = excess(sight, reservoir, span, since_h - span)
    cut_h = np.where(first.hours < span - _FINE_MIN / 60.0, span - first.hours, 0.0)
    gone = excess(sight, reservoir, span, np.maximum(since_h - span - cut_h, 0.0)) if cut_h.any() else first
    gone = against_share(gone, usual_share(before))
    other = np.where(before.significant | (before.l_per_h >= c.WETTING_BEFORE_L_PER_H), before.l_per_h, 0.0)
    return replace(gone, usual_l=gone.usual_l + other * gone.hours, l_per_h=gone.l_per_h - other)


def _others_l(sight: Sight, seen: _Wetted, n: NDArray[np.int64]) -> NDArray[np.float64]:
    """Litres that other containers on the same reservoirs took in the first hours of falls at places `n` (S,).

    Counted are those that fell unusually far: an emitter that was set wetter, or waters again, takes much at once.
    """
    reservoir = sight.place.reservoir_of[seen.which]
    last = seen.fine.shape[1] - 1
    taken = np.zeros(len(n))
    for k, place in enumerate(n):
        others = np.flatnonzero(seen.fell & (reservoir == reservoir[place]) & (np.arange(len(reservoir)) != place))
        begin = max(int(seen.falls.onset[place]), 0)
        end = min(begin + round(60 * c.WETTING_SPAN_H / _FINE_MIN), last)
        pots = [sight.place.containers[number] for number in seen.which[others]]
        taken[k] = gained(pots, seen.fine[others], begin, end).sum()
    return taken


def _without(gone: Excess, taken_l: NDArray[np.float64]) -> Excess:
    """What left reservoirs (S,) but for litres `taken_l` (S,) that others took of it.

    Where they took more than has left, theirs was poured, and none of it is counted.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        taken_l = np.where(taken_l <= gone.drawn_l - gone.usual_l + gone.sigma_l, taken_l, 0.0)
        rate = np.where(taken_l > 0.0, gone.l_per_h - taken_l / gone.hours, gone.l_per_h)
    return replace(gone, usual_l=gone.usual_l + taken_l, l_per_h=rate)


def _stopped(
    sight: Sight,
    reservoir: NDArray[np.int64],
    since_h: NDArray[np.float64],
    first_l_per_h: NDArray[np.float64],
    share: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Where for some hours since a fall far less left reservoirs (S,) than in its first ones, by rates (S,).

    Compared is with that `share` (S,) of the usual draw.

    Somebody closed the emitter, and without another fall it has not opened again: what leaves later, others take.
    """
    ago = np.arange(0.0, max(float(since_h.max(initial=0.0)) - 2.0 * c.STILL_HOURS, 0.0), c.STOPPED_EVERY_H)
    if not len(ago):
        return np.zeros(len(reservoir), dtype=np.bool_)
    looks, until = np.tile(reservoir, len(ago)), np.repeat(ago, len(reservoir))
    spans = against_share(excess(sight, looks, c.STILL_HOURS, until), np.tile(share, len(ago)))
    usual_then = spans.drawn_l - spans.usual_l + c.STOPPED_SIGMAS * spans.sigma_l
    with np.errstate(invalid="ignore"):
        less = usual_then < c.STILL_SHARE * np.tile(first_l_per_h, len(ago)) * spans.hours
        # Only hours that began after the fall's first ones, and were not cut short by a refill.
        less &= (until + 2.0 * c.STILL_HOURS <= np.tile(since_h, len(ago))) & (spans.hours >= c.STILL_HOURS - 0.5)
    return np.asarray(less.reshape(len(ago), -1).any(axis=0))


def _shown(
    gone: Excess,
    arrived: Arrival,
    n: NDArray[np.int64],
    sodden: NDArray[np.bool_],
    since_min: NDArray[np.float64],
    alone: NDArray[np.bool_],
) -> NDArray[np.bool_]:
    """Where the mass balance shows an emitter: `n` (S,) are places in what arrived, the rest is (S,).

    Water that came steadily for longer than any can is an emitter's unless too little left the reservoir. Sooner than
    that, while it comes, or once the container is sodden, what it gained must have left the reservoir, and not several
    times as much, which others took; and sooner still while each reading has as much of it. Where it is not `alone` in
    taking much or in falling, whose water left is not told so soon: water leaves the reservoir before it is felt. Nor
    is it where less and less comes, and by no mass balance where that ends.
    """
    gained, beyond = np.nan_to_num(arrived.gained_l[n]), gone.drawn_l - gone.usual_l
    steady, comes = arrived.steady_min[n], arrived.comes[n]
    undiminished = arrived.undiminished[n]
    least_min = np.where(undiminished, c.UNDIMINISHED_FROM_MIN, c.GAIN_FROM_MIN)
    sigmas = np.where(undiminished, c.UNDIMINISHED_SIGMAS, c.GAIN_SIGMAS)
    sigmas = np.where(since_min >= c.GAIN_LATER_MIN, c.GAIN_SIGMAS_LATER, sigmas)
    with np.errstate(invalid="ignore"):
        left = beyond >= c.GAIN_LEFT * gained
        sure = left & (beyond >= c.EXCESS_SIGMAS * gone.sigma_l)
        alike = left & (beyond >= sigmas * gone.sigma_l) & (beyond <= c.GAIN_MOST * gained + 2.0 * gone.sigma_l)
        # Where the medium is not known, what it gained is not either: then more than usual must leave beyond chance.
        alike = np.where(np.isfinite(arrived.gained_l[n]), alike, sure)
        tells = (since_min >= least_min) & (~arrived.dwindles[n] | (since_min >= c.GAIN_LATER_MIN)) & ~arrived.ends[n]
        early = alone & comes & (steady >= c.STEADY_LEAST_MIN) & tells & alike
        poured = beyond + c.POURED_SIGMAS * gone.sigma_l < c.POURED_SHARE * gained
        late = (steady >= c.STEADY_MIN) & (comes | sodden | (since_min <= c.STEADY_ENDS_MIN))
        return np.asarray(early | (sodden & sure) | (late & ~poured & (beyond > 0.0)))


def _level_tells(sight: Sight, reservoir: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether reservoirs have a level sensor that speaks and moves, and enough history to compare with."""
    stuck = list(stuck_levels(sight))
    tells = (reservoir != NONE) & np.append(sight.level.known, False)[reservoir] & ~np.isin(reservoir, stuck)
    usual = np.isfinite(sight.draws.usual_l_per_h).all(axis=1)
    return np.asarray(tells & np.append(usual, False)[reservoir])


def _recovers(seen: _Wetted) -> NDArray[np.bool_]:
    """Where tension has risen clearly from its lowest since the fall: plants drink and nothing comes."""
    after = np.arange(seen.fine.shape[1]) >= seen.falls.bottom[:, np.newaxis]
    lowest = np.fmin.reduce(np.where(after, seen.fine, np.nan), axis=1)
    # Neither one noisy reading tells, nor a median that is still on its way down.
    return np.asarray(np.fmin(seen.now_mbar, seen.fine[:, -1]) - lowest >= c.RECOVERS_MBAR)


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


def _finding(sight: Sight, suspects: _Suspects, k: int) -> Finding:
    """What is found of the suspect at place `k`."""
    seen, source, n = suspects.seen, suspects.source, int(suspects.n[k])
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
            "steady_minutes": rounded(source.arrived.steady_min[k], 0),
            "gained_l": rounded(source.arrived.gained_l[k]),
            "excess_l_per_h": rounded(l_per_h),
            "excess_l": rounded(source.litres[k]),
            "hours_to_flood": rounded(flood_h),
        },
        harm_at=after(sight.as_of, flood_h),
        explained_by=(("probe-fault", container.id),),
    )

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
from wickwatch.detect.clock import moment
from wickwatch.detect.evidence import rounded
from wickwatch.detect.excess import Excess, excess
from wickwatch.detect.fall import Falls, falls
from wickwatch.detect.finding import Finding
from wickwatch.detect.flood import hours_to_flood
from wickwatch.detect.layout import NONE
from wickwatch.detect.probe_fault import stuck_levels
from wickwatch.detect.sight import Sight, subject
from wickwatch.detect.window import bridged, cut, numbers

_FINE_MIN = 5.0


@dataclass(frozen=True)
class _Wetted:
    """All containers of rooms in which one is near or below its wet limit: `which` are their numbers, the rest is (N,).

    `suspect` are those that may be findings. `crossed_min` are minutes since the wet limit was passed.
    """

    which: NDArray[np.int64]
    fine: NDArray[np.float32]
    hourly: NDArray[np.float32]
    now_mbar: NDArray[np.float64]
    falls: Falls
    suspect: NDArray[np.bool_]
    crossed_min: NDArray[np.float64]
    together: NDArray[np.bool_]


def find(sight: Sight) -> list[Finding]:
    """Findings of containers that are wetted and do not recover; settling and silent ones are left out."""
    seen = _wetted(sight)
    if seen is None or not seen.suspect.any():
        return []
    suspects = seen.suspect & ~seen.together & ~_recovers(seen)
    found = []
    for n in numbers(suspects):
        source = _source(sight, seen, n)
        if source is not None:
            found.append(_finding(sight, seen, source, n))
    return found


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
    room = np.zeros(len(place.rooms), dtype=np.bool_)
    room[place.room_of[near]] = True
    which = np.flatnonzero(sight.tension.known & room[place.room_of])
    fine, hourly = cut(frame.fine, rows[which], since[which]), cut(frame.coarse, rows[which], since[which])
    gap = np.ceil(3 * np.nan_to_num(place.tension.interval_s[which], nan=300.0) / 300.0).astype(np.int64)
    whole = bridged(fine, gap)
    near_limit = np.fmax(limit[which], newest[which] + 0.01)  # a fall still above the limit ends now
    seen = falls(whole, hourly, near_limit)
    doubted = out_of_range(whole) | emptied(whole, hourly)
    over = whole >= limit[which][:, np.newaxis]
    crossed = np.where(over.any(axis=1), np.argmax(over[:, ::-1], axis=1), whole.shape[1])
    return _Wetted(
        which,
        whole,
        hourly,
        nanmedian(whole[:, -c.NOW_STEPS :]),
        seen,
        near[which] & seen.unusual & ~doubted,
        _FINE_MIN * crossed,
        _together(sight, which, seen, doubted),
    )


def _newest(last: NDArray[np.float32]) -> NDArray[np.float64]:
    """The newest value of each row, NaN for none."""
    newest = np.full(len(last), np.nan)
    for column in range(last.shape[1]):
        newest = np.where(np.isfinite(last[:, column]), last[:, column], newest)
    return newest


def _together(sight: Sight, which: NDArray[np.int64], seen: Falls, doubted: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Where many containers of a room fell at about the same time: somebody walked round, or the line catches up."""
    room = sight.place.room_of[which]
    fell = seen.unusual & ~doubted
    alike = (
        (np.abs(seen.steepest[:, np.newaxis] - seen.steepest) <= c.FELL_TOGETHER_STEPS)
        & (room[:, np.newaxis] == room)
        & fell[np.newaxis, :]
    )
    others = alike.sum(axis=1)
    total = np.bincount(room, minlength=len(sight.place.rooms))[room]
    return np.asarray((others >= c.FELL_TOGETHER_LEAST) & (others >= c.FELL_TOGETHER_SHARE * total))


@dataclass(frozen=True)
class _Source:
    """Water that goes on coming: l/h beyond usual and litres so far, NaN where no level tells."""

    l_per_h: float
    litres: float


def _source(sight: Sight, seen: _Wetted, n: int) -> _Source | None:
    """Whether an emitter waters a container still, and how much; None where it does not."""
    since_min = float(_min_since(seen.falls.onset, seen)[n])
    steady = float(seen.falls.steady_min[n])
    was_dry = bool(_was_dry(sight, seen)[n])
    reservoir = int(sight.place.reservoir_of[seen.which[n]])
    if not _level_tells(sight, reservoir):
        blind = steady >= c.STEADY_BLIND_MIN and not was_dry and since_min <= 60 * c.BLIND_HOURS
        return _Source(float("nan"), float("nan")) if blind else None
    if was_dry:
        # A pot back from drought is flooded by its own emitter for a while: only what comes after that counts.
        late_min = float(seen.crossed_min[n]) - c.OVERSHOOT_MIN
        return _if_significant(_rate(sight, reservoir, late_min / 60.0)) if late_min >= c.SHORTEST_MIN else None
    first = _first(sight, reservoir, since_min / 60.0, steady)
    if first is None or since_min <= 60.0 * (c.STILL_HOURS + 1.0):
        return first
    late = _rate(sight, reservoir, c.STILL_HOURS)
    goes_on = late.l_per_h[0] >= max(c.STILL_SHARE * first.l_per_h, c.EXCESS_LEAST_L_PER_H)
    return _Source(float(late.l_per_h[0]), first.litres) if goes_on else None


def _level_tells(sight: Sight, reservoir: int) -> bool:
    """Whether the reservoir has a level sensor that speaks and moves, and enough history to compare with."""
    if reservoir == NONE or not sight.level.known[reservoir] or reservoir in stuck_levels(sight):
        return False
    return bool(np.isfinite(_rate(sight, reservoir, 1.0).l_per_h[0]))


def _first(sight: Sight, reservoir: int, since_h: float, steady_min: float) -> _Source | None:
    """Water that left the reservoir in the first hours of a fall, or None.

    Any of some spans may show it: where the fall itself looks like an emitter's, or, as long as that can't be told yet,
    where clearly more is drawn than the little that is usual.
    """
    longest = min(since_h, c.WETTING_SPANS_H[-1])
    shown = False
    for span_h in (*[each for each in c.WETTING_SPANS_H if each < longest], longest):
        seen = _rate(sight, reservoir, span_h, since_h - span_h)
        beyond = float((seen.drawn_l - seen.usual_l)[0])
        quiet = bool(seen.significant[0]) and beyond >= c.QUIET_FACTOR * float(seen.usual_l[0])
        quiet &= 60.0 * since_h <= c.SHAPE_TOLD_MIN
        alike = steady_min >= c.STEADY_MIN and beyond >= c.STEADY_NEEDS_SIGMAS * float(seen.sigma_l[0])
        shown |= quiet or alike
    return _Source(float(seen.l_per_h[0]), beyond) if shown else None


def _if_significant(seen: Excess) -> _Source | None:
    if not seen.significant[0]:
        return None
    return _Source(float(seen.l_per_h[0]), float((seen.drawn_l - seen.usual_l)[0]))


def _rate(sight: Sight, reservoir: int, hours: float, until_h: float = 0.0) -> Excess:
    return excess(sight, np.array([reservoir]), hours, until_h)


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


def _finding(sight: Sight, seen: _Wetted, source: _Source, n: int) -> Finding:
    place, number = sight.place, int(seen.which[n])
    container, fine = place.containers[number], sight.frame.fine
    flood_h = hours_to_flood(container, float(seen.now_mbar[n]), source.l_per_h)
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
            "steady_minutes": rounded(seen.falls.steady_min[n], 0),
            "excess_l_per_h": rounded(source.l_per_h),
            "excess_l": rounded(source.litres),
            "hours_to_flood": rounded(flood_h),
        },
        harm_at=moment(sight.as_of + np.timedelta64(round(3600 * flood_h), "s")) if 0 < flood_h < np.inf else None,
        explained_by=(("probe-fault", container.id),),
    )

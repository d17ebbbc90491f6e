"""drying-drift: a container dries out, slowly over days, fast within hours, or stands past its dry limit.

Slow: a significant rise day by day that reaches the dry limit within the rule's horizon, or has carried the container
well above where it was. Fast: above its own usual day, and its emitter has not opened. Past the limit: for whole hours.
Explained by a line without water, a reservoir run dry, a probe that lies. Statistics are in `drift_slow`, `drift_fast`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Interval
from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.believable import leapt, out_of_range
from wickwatch.detect.clock import after, local_minutes, moment
from wickwatch.detect.drier import drier, waterings
from wickwatch.detect.drift_fast import Fast, fast, usual
from wickwatch.detect.drift_slow import Slow, onset_hours, slow
from wickwatch.detect.evidence import rounded
from wickwatch.detect.finding import Finding, Key
from wickwatch.detect.habits import habits
from wickwatch.detect.peaks import DAY_HOURS
from wickwatch.detect.sight import Sight, subject
from wickwatch.detect.stepped import stepped
from wickwatch.detect.twins import crept_mbar
from wickwatch.detect.window import chunks, cut, numbers

#: Containers whose windows are copied at once: some 15 MB.
_CHUNK = 2048


@dataclass(frozen=True)
class _Window:
    """Containers looked at closely: `which` are their numbers (N,), the rest is of the same length."""

    which: NDArray[np.int64]
    hourly: NDArray[np.float32]
    fine: NDArray[np.float32]
    ceiling_mbar: NDArray[np.float64]


@dataclass(frozen=True)
class _Judged:
    """What the statistics say of a window's containers, and which way each is found.

    `watered` are those that were watered of late from nearly where they stand, `lifted` those that would be found, but
    whose tension leapt as no drying takes it there.
    """

    slow: Slow
    fast: Fast
    by_slow: NDArray[np.bool_]
    by_fast: NDArray[np.bool_]
    above: NDArray[np.bool_]
    creeps: NDArray[np.bool_]
    watered: NDArray[np.bool_]
    lifted: NDArray[np.bool_]

    @property
    def found(self) -> NDArray[np.bool_]:
        """Those that dry out as water does."""
        return self.by_slow | self.by_fast | self.above


def find(sight: Sight) -> list[Finding]:
    """Findings of containers that dry out; settling and silent ones are left out."""
    found: list[Finding] = []
    for window, judged in looked_at(sight):
        found += [_finding(sight, window, judged, n) for n in numbers(judged.found)]
    return found


def creeping(sight: Sight) -> NDArray[np.int64]:
    """Numbers of containers whose tension drifts though their medium does not get drier: their probe does."""
    return _numbers(sight, lambda judged: judged.creeps)


def drying(sight: Sight) -> NDArray[np.int64]:
    """Numbers of containers that dry out as water does."""
    return _numbers(sight, lambda judged: judged.found)


def lifted(sight: Sight) -> NDArray[np.int64]:
    """Numbers of containers that would be found, but whose probe was lifted hours ago or put into another pot."""
    return _numbers(sight, lambda judged: judged.lifted)


def _numbers(sight: Sight, those: Callable[[_Judged], NDArray[np.bool_]]) -> NDArray[np.int64]:
    parts = [window.which[those(judged)] for window, judged in looked_at(sight)]
    return np.concatenate(parts) if parts else np.array([], dtype=np.int64)


def looked_at(sight: Sight) -> list[tuple[_Window, _Judged]]:
    """Every container that could be drying, in parts, with what the statistics say; made once in a sweep."""
    return sight.once("drying", lambda: _looked_at(sight))


def _looked_at(sight: Sight) -> list[tuple[_Window, _Judged]]:
    which = np.flatnonzero(sight.tension.known & ~(sight.settling.container_until > sight.as_of))
    windows = [_suspects(sight, which[part]) for part in chunks(len(which), _CHUNK)]
    return [(window, _judge(sight, window)) for window in windows if len(window.which)]


def _suspects(sight: Sight, which: NDArray[np.int64]) -> _Window:
    """Those of the containers that stood, within the last day, above what their usual days reach."""
    frame, place = sight.frame, sight.place
    rows = sight.tension.row[which]
    since = np.fmax(place.tension.since[which], sight.settling.history_from[which])
    now = nanmedian(cut(frame.fine, rows, since, c.NOW_STEPS))
    rule = place.container_rules
    ceiling = np.fmax(habits(sight, which).peak, rule.of("set_point_mbar")[which] + c.PEAK_OVER_SET_MBAR)
    ceiling += c.PEAK_MARGIN_MBAR
    ceiling = np.minimum(ceiling, rule.of("dry_limit_mbar")[which] - c.DRY_RELEASE_MBAR)
    high = np.fmax(np.fmax.reduce(cut(frame.coarse, rows, since, DAY_HOURS), axis=1), now) >= ceiling
    rows, since = rows[high], since[high]
    return _Window(which[high], cut(frame.coarse, rows, since), cut(frame.fine, rows, since), ceiling[high])


def _judge(sight: Sight, window: _Window) -> _Judged:
    rule, which = sight.place.container_rules, window.which
    dry = rule.of("dry_limit_mbar")[which]
    threshold = rule.of("fast_drying_mbar")[which]
    hour = int(local_minutes(sight.facility.zone, np.array([sight.as_of]))[0]) // 60
    count, known = len(sight.place.containers), habits(sight, which)

    def usually(some: NDArray[np.int64]) -> NDArray[np.float64]:
        columns = sight.same_hours
        return usual(window.hourly[np.searchsorted(which, some)], columns)

    usual_mbar = sight.by_hour("usual day", count, which, usually)
    quick = fast(window.fine, window.hourly, usual_mbar, hour, known, threshold, window.ceiling_mbar)
    rows = sight.by_hour("slow drift", count, which, lambda some: _slow(sight, window, np.searchsorted(which, some)))
    gradual, by_slow = _unpacked(rows)
    with np.errstate(invalid="ignore"):
        by_slow &= ~(quick.above_mbar < -c.DRIFT_WET_FALLS * known.usual_fall)
        # Nor does one drift that was dry of late and has been watered deep since, to where it usually is.
        fell = np.fmax.reduce(window.hourly[:, -c.DRIFT_FELL_H :], axis=1) - quick.now_mbar
        by_slow &= ~(
            (fell >= c.DEEP_FALLS * known.usual_fall) & (quick.above_mbar < c.DRIFT_BACK_FALLS * known.usual_fall)
        )
    by_fast = quick.found
    above = _above(window.hourly, quick.now_mbar, dry)
    # Only those that look abnormal are asked whether it can be water.
    hits = np.flatnonzero(by_slow | by_fast | above)
    lifted = np.zeros(len(which), dtype=np.bool_)
    lifted[hits] = leapt(window.fine[hits], window.hourly[hits], c.LEAP_YOUNG_STEPS)
    lies = hits[out_of_range(window.fine[hits]) | lifted[hits]]
    by_slow[lies] = by_fast[lies] = above[lies] = False
    # A day after it was put into another pot its usual days are still those of the one before.
    hits = np.flatnonzero(by_fast)
    by_fast[hits] = ~leapt(window.fine[hits], window.hourly[hits], c.LEAP_DAY_STEPS)
    creeps = np.zeros(len(which), dtype=np.bool_)
    hits = np.flatnonzero(by_slow)

    def asked(some: NDArray[np.int64]) -> NDArray[np.float64]:
        source = [_source(sight, window, int(n)) for n in np.searchsorted(which, some)]
        return np.array([[each == "medium", each == "probe"] for each in source], dtype=np.float64).reshape(-1, 2)

    source = sight.by_hour("source of drift", count, which[hits], asked)
    by_slow[hits], creeps[hits] = source[:, 0] > 0.0, source[:, 1] > 0.0
    with np.errstate(invalid="ignore"):
        watered = quick.now_mbar <= known.watered_at + c.NEARLY_WATERED_MBAR
    return _Judged(gradual, quick, by_slow, by_fast, above & ~creeps, creeps, watered, lifted)


def _source(sight: Sight, window: _Window, n: int) -> Literal["medium", "probe"] | None:
    """What a slow drift is: a medium that gets drier, or a probe that creeps; None while that can't be told yet.

    A second probe beside it decides. Without one, only waterings that have clearly not grown speak against the probe.
    """
    number = window.which[n : n + 1]
    if sight.twin.known[number[0]]:
        return _by_twin(sight, window, n)
    rows, since = sight.tension.row[number], sight.place.tension.since[number]
    mean, low, high = (cut(sight.frame.coarse, rows, since, None, which)[0] for which in ("mean", "low", "high"))
    seen = waterings(mean, low, high)
    asked = [drier(seen, len(mean) - back) for back in c.DRIER_ASKED_H]
    creeps = asked[0][1] >= c.DRIER_MUCH and all(power < c.DRIER_POWER for power, _ in asked)
    return "probe" if creeps else "medium"


def _by_twin(sight: Sight, window: _Window, n: int) -> Literal["medium", "probe"] | None:
    number = window.which[n : n + 1]
    rows, since = sight.twin.row[number], sight.place.twin.since[number]
    other = cut(sight.frame.coarse, rows, since)
    rose = [_rose(each) for each in (window.hourly[n : n + 1], other)]
    if not np.isfinite(rose[1]):
        return "medium"
    if rose[1] >= c.TWIN_AGREES * rose[0]:
        return "medium"
    apart = window.hourly[n : n + 1] - other
    if _now_less_early(apart) < c.TWIN_STILL * c.TWIN_MBAR:
        return None  # it has been put right
    days = c.TWIN_DAYS * DAY_HOURS
    highest = c.CREEP_LIMIT * sight.place.container_rules.of("dry_limit_mbar")[number]
    crept = crept_mbar(window.hourly[n : n + 1, -days:], other[:, -days:], highest)
    if crept[0] < c.TWIN_STILL * c.TWIN_MBAR:
        return None  # it was put elsewhere
    return "probe" if rose[0] - rose[1] >= c.TWIN_MBAR else None


def _now_less_early(apart: NDArray[np.float32]) -> float:
    """How much further [mbar] two probes (1, T) are apart in the last whole hours than they were at first."""
    days = apart[:, -c.TWIN_DAYS * DAY_HOURS :]
    return float((nanmedian(days[:, -c.TWIN_NOW_H :]) - nanmedian(days[:, : days.shape[1] // 2]))[0])


def _rose(hourly: NDArray[np.float32]) -> float:
    """Rise [mbar] of the last day over the days more than a week ago, or the oldest there are."""
    daily = nanmedian(hourly[:, -c.TWIN_DAYS * DAY_HOURS :].reshape(1, -1, DAY_HOURS))[0]
    early = daily[: c.TWIN_DAYS // 3]
    return float(daily[-1] - nanmedian(early if np.isfinite(early).any() else daily[: c.TWIN_DAYS // 2]))


def _slow(sight: Sight, window: _Window, some: NDArray[np.int64]) -> NDArray[np.float64]:
    """The drift of some of the window's containers as of now, and whether it is found; a row for `_unpacked` each.

    It is found if it is there now, or was lately and has not ended.
    """
    part = _Window(window.which[some], window.hourly[some], window.fine[some], window.ceiling_mbar[some])
    rule, which = sight.place.container_rules, part.which
    days = _days(sight, part)
    now = _in_groups(part.hourly, days)
    found = _drifts(sight, part, part.hourly, now)
    with np.errstate(invalid="ignore"):
        goes_on = (now.slope >= c.DRIFT_HOLD_SLOPE * rule.of("drift_mbar_per_day")[which]) & (now.low > 0.0)
        goes_on &= now.p_rising <= c.DRIFT_HOLD_CHANCE
    ask = np.flatnonzero(goes_on & ~found)
    asked = _Window(which[ask], part.hourly[ask], part.fine[ask], part.ceiling_mbar[ask])
    for back in c.DRIFT_LOOK_BACK_H if len(ask) else ():
        before = asked.hourly[:, :-back]
        found[ask] |= _drifts(sight, asked, before, _in_groups(before, days[ask]))
    fields = [np.asarray(getattr(now, name), dtype=np.float64) for name in Slow.__dataclass_fields__]
    return np.stack([*fields, found.astype(np.float64)], axis=1)


def _unpacked(rows: NDArray[np.float64]) -> tuple[Slow, NDArray[np.bool_]]:
    columns = dict(zip([*Slow.__dataclass_fields__, "found"], rows.T, strict=True))
    found = columns.pop("found") > 0.0
    return Slow(**{**columns, "days": columns["days"].astype(np.int64)}), found


def _drifts(sight: Sight, window: _Window, hourly: NDArray[np.float32], seen: Slow) -> NDArray[np.bool_]:
    """Which of the window's containers drift as of the end of `hourly` (N, T), which is what `seen` was made of."""
    rule, which = sight.place.container_rules, window.which
    with np.errstate(invalid="ignore", divide="ignore"):
        significant = seen.p_rising <= 1.0 - rule.of("drift_confidence")[which]
        fast_enough = (seen.slope >= rule.of("drift_mbar_per_day")[which]) & (seen.low > 0.0)
        days_left = (rule.of("dry_limit_mbar")[which] - seen.peak_mbar) / seen.nearing
        near = (seen.nearing > 0.0) & (days_left <= rule.of("drift_horizon_days")[which])
        far_off = seen.risen_mbar >= c.RISEN_FACTOR * rule.of("fast_drying_mbar")[which]
        found = significant & fast_enough & (near | far_off) & (seen.peak_mbar >= window.ceiling_mbar)
    days = _days(sight, window)
    for n in numbers(found):
        found[n] = not stepped(hourly[n], int(days[n]), float(seen.slope[n]))
    return np.asarray(found)


def _days(sight: Sight, window: _Window) -> NDArray[np.int64]:
    """Over how many days each of the window's containers (N,) is judged for a slow drift."""
    days = np.round(sight.place.container_rules.of("drift_days")[window.which]).astype(np.int64)
    return np.clip(days, 1, window.hourly.shape[1] // DAY_HOURS - 1)


def _in_groups(hourly: NDArray[np.float32], days: NDArray[np.int64]) -> Slow:
    """Containers may differ in the days they are judged over; they are judged in groups of the same."""
    kinds = np.unique(days)
    if len(kinds) <= 1:
        return slow(hourly, int(kinds[0]) if len(kinds) else 1)
    parts = [(np.flatnonzero(days == each), slow(hourly[days == each], int(each))) for each in kinds]
    order = np.argsort(np.concatenate([where for where, _ in parts]))
    fields = Slow.__dataclass_fields__
    return Slow(**{name: np.concatenate([getattr(part, name) for _, part in parts])[order] for name in fields})


def _above(hourly: NDArray[np.float32], now: NDArray[np.float64], dry: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Where the dry limit was passed for whole hours within the last day, and tension has stood near it since."""
    recent = hourly[:, -c.FAST_HOURS :]
    over = recent > dry[:, np.newaxis]
    near = np.where(np.isfinite(recent), recent > (dry - c.DRY_RELEASE_MBAR)[:, np.newaxis], True)
    since_near = np.flip(np.logical_and.accumulate(np.flip(near, axis=1), axis=1), axis=1)
    whole = (over & since_near).sum(axis=1) >= c.ABOVE_HOURS
    return np.asarray(whole & (now > dry - c.DRY_RELEASE_MBAR))


def _finding(sight: Sight, window: _Window, judged: _Judged, n: int) -> Finding:
    place, number = sight.place, int(window.which[n])
    container, seen, quick = place.containers[number], judged.slow, judged.fast
    dry = float(place.container_rules.of("dry_limit_mbar")[number])
    by_slow = bool(judged.by_slow[n])
    days = round(float(place.container_rules.of("drift_days")[number]))
    ago_h = onset_hours(window.hourly[n], days) if by_slow else float(np.nan_to_num(quick.since_h[n]))
    spent_h = max(ago_h, c.POINT_MOVES_H) if judged.watered[n] else ago_h
    left = _hours_left(float(quick.above_mbar[n]), float(quick.now_mbar[n]), dry, spent_h, slow=by_slow)
    evidence = {
        "tension_mbar": rounded(quick.now_mbar[n]),
        "dry_limit_mbar": rounded(dry),
        "above_usual_mbar": rounded(quick.above_mbar[n]),
        "rise_mbar_per_h": rounded(quick.per_h[n]),
        "hours_to_dry_limit": rounded(left.value),
        "hours_to_dry_limit_low": rounded(left.low),
        "hours_to_dry_limit_high": rounded(left.high),
    }
    if by_slow:
        evidence |= {
            "slope_mbar_per_day": rounded(seen.slope[n]),
            "slope_low_mbar_per_day": rounded(seen.low[n]),
            "slope_high_mbar_per_day": rounded(seen.high[n]),
            "confidence": rounded(1.0 - seen.p_rising[n], 3),
        }
    return Finding(
        kind="drying-drift",
        subject=subject(container),
        room_id=place.rooms[place.room_of[number]].id,
        since=moment(sight.as_of - np.timedelta64(round(3600 * ago_h), "s")),
        evidence=evidence,
        harm_at=after(sight.as_of, float(left.value)),
        explained_by=_causes(sight, number),
    )


def _hours_left(above_mbar: float, now_mbar: float, dry_mbar: float, since_h: float, *, slow: bool) -> Interval:
    """Hours until the dry limit with an 80 % interval, by how far above its usual day it has come since it left it.

    0 where the limit is passed, infinite where it can't be told.
    """
    gap = max(dry_mbar - now_mbar, 0.0)
    if not np.isfinite(above_mbar) or not np.isfinite(gap):
        return Interval(*(np.asarray(np.inf) for _ in range(3)))
    hours = gap / max(above_mbar, c.DRY_LEAST_ABOVE_MBAR) * max(since_h, 1.0)
    low, middle, high = c.DRY_LIMIT_SLOW if slow else c.DRY_LIMIT_FAST
    return Interval(*(np.asarray(share * hours) for share in (middle, low, high)))


def _causes(sight: Sight, number: int) -> tuple[Key, ...]:
    """What explains a drying container if it holds too, the likeliest first."""
    place = sight.place
    causes: list[Key] = []
    line, reservoir = int(place.line_of[number]), int(place.reservoir_of[number])
    if reservoir >= 0:
        causes.append(("reservoir-empty", place.reservoirs[reservoir].id))
    if line >= 0:
        causes.append(("supply-interrupted", place.lines[line].id))
    causes.append(("probe-fault", place.containers[number].id))
    causes.append(("uneven-room", place.rooms[place.room_of[number]].id))
    return tuple(causes)

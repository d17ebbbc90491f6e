"""supply-interrupted: containers of one line dry together, though their reservoir is neither empty nor drawn from.

A container counts when it stands above the tension at which it is usually watered, also of late, and has not been, and
was not there before either, as one whose emitter drifts is: several at once on one line is a closed valve or an air
lock, and no bad luck. How many it takes depends on what the reservoir gives and on how far they are from usual: two
dry by chance, but two that left it within hours and dry on and on suffice. About half of the line must have gone
without water since, those that are not dry yet included: emitters of a room that creep drier make some pots dry on,
and all the while water the others. It goes on until most have been watered.
Not here: a line told sooner by waterings that do not come (`unserved`) or by where on it containers dry
(`supply_beyond`), what its reservoir gives (`supply_draw`), a reservoir run dry (`reservoir_empty`), which explains it,
nor when a line can't be judged (`supply_untold`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.believable import leapt, out_of_range
from wickwatch.detect.clock import moment, since_lights_on
from wickwatch.detect.evidence import rounded
from wickwatch.detect.fall import deepest_fall
from wickwatch.detect.finding import Finding, Key
from wickwatch.detect.habits import above_usual, above_usual_by_line, habits, is_wet, rises
from wickwatch.detect.layout import NONE
from wickwatch.detect.sight import Sight
from wickwatch.detect.supply_beyond import Beyond, beyond
from wickwatch.detect.supply_draw import gives_less, supplied
from wickwatch.detect.unserved import share_of_line, unserved
from wickwatch.detect.usual_speed import usual_rises
from wickwatch.detect.window import cut, last_where, numbers, runs
from wickwatch.fleet import Subject


@dataclass(frozen=True)
class _Dry:
    """Containers of a line that is looked at: `which` are their numbers (N,); columns are the last hours and now.

    `high` where they stood above their usual peak, `unwatered` where they had also risen further than they usually do,
    `far` where much further. `since_h` (N,) are the hours since when each has stood high without a break, 0 where it
    does not now, `asks_h` (N,) the same for a little above it, `dried_h` (N,) those since it was last wet, and
    `lacks_h` (N,) those since when it has neither been wet nor watered.
    """

    which: NDArray[np.int64]
    now_mbar: NDArray[np.float64]
    over_mbar: NDArray[np.float64]
    high: NDArray[np.bool_]
    unwatered: NDArray[np.bool_]
    far: NDArray[np.bool_]
    since_h: NDArray[np.int64]
    dried_h: NDArray[np.int64]
    lacks_h: NDArray[np.int64]
    asks_h: NDArray[np.int64]


def find(sight: Sight) -> list[Finding]:
    """Findings of lines whose containers get no water."""
    found = []
    for line in _lines(sight):
        seen = _look(sight, np.flatnonzero(sight.place.line_of == line))
        since = _since(seen)
        if since is None or not _cut(sight, line, seen, since):
            since = unserved(sight, line, seen.asks_h)
        behind = _behind(sight, line, seen)
        if since is None and behind is not None:
            since = behind.hours
        if since is not None and not _others_wetter(sight, line, seen):
            found.append(_finding(sight, line, seen, behind, since))
    return found


def several_ask(sight: Sight, lines: Iterable[int]) -> set[int]:
    """Those of the lines of which several containers stand a little above their usual peak now, unless they stray."""
    place = sight.place
    on_line, over_mbar = above_usual(sight)
    with np.errstate(invalid="ignore"):
        high = ~(over_mbar < c.UNSERVED_ASKS_MBAR)  # one that has no usual peak may be
    several = np.bincount(place.line_of[on_line[high]], minlength=len(place.lines)) >= c.SUPPLY_LEAST
    # On most lines but one container dries, and they need no closer look.
    looked_at = {line: _look(sight, np.flatnonzero(place.line_of == line)) for line in lines if several[line]}
    return {line for line, seen in looked_at.items() if (seen.asks_h > 0).sum() >= c.SUPPLY_LEAST}


def _lines(sight: Sight) -> list[int]:
    """Lines on which enough containers stand above their usual peak now, and not because their reservoir is empty."""
    place = sight.place
    some = above_usual_by_line(sight, c.UNSERVED_ASKS_MBAR) >= c.SUPPLY_LEAST
    dry = sight.level.known & (sight.levels.now_mm <= place.empty_mm)
    runs_dry = np.append(dry, False)[place.line_reservoir]  # the last is for a line on none, -1
    return numbers(some & ~runs_dry)


def _look(sight: Sight, which: NDArray[np.int64]) -> _Dry:
    frame, place = sight.frame, sight.place
    settles = sight.settling.container_until[which] > sight.as_of
    which = which[sight.tension.known[which] & ~settles]
    rows = sight.tension.row[which]
    since = np.fmax(place.tension.since[which], sight.settling.history_from[which])
    fine, hourly = cut(frame.fine, rows, since), cut(frame.coarse, rows, since)
    set_point = place.container_rules.of("set_point_mbar")
    water = ~(out_of_range(fine) | leapt(fine, hourly))
    which, fine, hourly = which[water], fine[water], hourly[water]
    now = nanmedian(fine[:, -c.NOW_STEPS :])
    known = habits(sight, which)
    # One that was never seen to be watered is dry above its set point only.
    own_top = np.where(np.isfinite(known.usual_rise), known.usual_top, np.fmax(known.usual_top, set_point[which]))
    peak = own_top[:, np.newaxis]
    recent = np.column_stack([hourly[:, -c.FAST_HOURS :], now])
    own = np.fmax(known.usual_rise, c.LEAST_RISE_MBAR)[:, np.newaxis]
    risen = rises(known, now)
    back = np.column_stack([hourly[:, -c.SUPPLY_BACK_H - c.SUPPLY_STRAY_BACK_H :], now])
    with np.errstate(invalid="ignore"):
        over = recent - peak
        high = over >= c.SUPPLY_MARGIN_MBAR
        unwatered = high & (risen >= c.SUPPLY_RISE * own)
        far = (over >= c.SUPPLY_FAR_MBAR) & (risen >= c.SUPPLY_FAR_RISE * own)
        stands, asks = (
            (back >= peak + margin) | np.isnan(back) for margin in (c.SUPPLY_MARGIN_MBAR, c.UNSERVED_ASKS_MBAR)
        )
    since_h, asks_h = runs(stands)[:, -1], runs(asks)[:, -1]
    # One that stands there for days, or stood there before and was watered from there, drifts by itself and tells
    # nothing of its line. One that fell deep from there, by a can or once its line was open again, does tell.
    strays = _before(stands & np.isfinite(back), since_h) > c.SUPPLY_STRAY_H
    speed = np.nan_to_num(usual_rises(sight, hourly, back.shape[1]))  # 0 unknown
    with np.errstate(invalid="ignore"):
        deep = _fell(back, since_h) >= c.DEEP_FALLS * np.fmax(known.usual_fall, c.LEAST_FALL_MBAR)
    strays &= ~deep | _stood_slowly(back, stands, since_h, speed)
    strays |= _slow(over[:, -1] - c.SUPPLY_MARGIN_MBAR, np.where(_last(since_h - 1, back.shape[1]), speed, 0.0))
    tells = (since_h <= c.SUPPLY_BACK_H) & ~strays
    high |= np.isnan(recent)
    dried_h = runs(~is_wet(back, own_top, known))[:, -1]
    lacks_h = np.minimum(_unwatered_h(back, c.SUPPLY_WATERED * known.usual_fall), dried_h)
    return _Dry(
        which=which[tells],
        now_mbar=now[tells],
        over_mbar=over[tells, -1],
        high=high[tells],
        unwatered=unwatered[tells],
        far=far[tells],
        since_h=since_h[tells],
        dried_h=dried_h[tells],
        lacks_h=lacks_h[tells],
        asks_h=asks_h[tells],
    )


def _last(count: NDArray[np.int64], width: int) -> NDArray[np.bool_]:
    """The last `count` (N,) of `width` columns."""
    return np.asarray(np.arange(width) >= width - count[:, np.newaxis])


def _slow(risen_mbar: NDArray[np.float64], usual_mbar: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Where containers rose far less than they usually do in such hours (N, T) when nothing waters them (N,).

    Their emitter waters them, from a tension that creeps.
    """
    usual = usual_mbar.sum(axis=1)
    with np.errstate(invalid="ignore"):
        return np.asarray((usual >= c.SUPPLY_SLOW_FROM_MBAR) & (risen_mbar < c.SUPPLY_SLOW * usual))


def _stood_slowly(
    back: NDArray[np.float64],
    stands: NDArray[np.bool_],
    since_h: NDArray[np.int64],
    speed: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Where containers rose slowly, too, while they last stood high before now (N,): no can makes them tell."""
    width = back.shape[1]
    before = stands & np.isfinite(back) & ~_last(since_h, width)
    end = last_where(before)
    held = runs(before)[np.arange(len(back)), np.maximum(end, 0)]
    begin = np.maximum(end - held + 1, 0)
    column = np.arange(width)
    inside = (column > begin[:, np.newaxis]) & (column <= end[:, np.newaxis])
    risen = np.fmax.reduce(np.where(inside, back, np.nan), axis=1) - back[np.arange(len(back)), begin]
    return (end >= 0) & _slow(risen, np.where(inside, speed, 0.0))


def _fell(back: NDArray[np.float64], since_h: NDArray[np.int64]) -> NDArray[np.float64]:
    """How far tension (N, T) fell at most, from its highest so far, before containers last came to stand high (N,)."""
    return deepest_fall(np.where(_last(since_h, back.shape[1]), np.nan, back))


def _unwatered_h(tension_mbar: NDArray[np.floating], fall_mbar: NDArray[np.float64]) -> NDArray[np.int64]:
    """Hours, to the hour begun, for which tension (N, T) has fallen by less than `fall_mbar` (N,) at a time."""
    newest_first = np.flip(tension_mbar, axis=1)
    fell = newest_first - np.fmin.accumulate(newest_first, axis=1)
    return np.asarray((np.fmax.accumulate(fell, axis=1) < fall_mbar[:, np.newaxis]).sum(axis=1))


def _before(stood: NDArray[np.bool_], since_h: NDArray[np.int64]) -> NDArray[np.int64]:
    """Hours that containers (N,) stood above their usual peak within some hours before they last came to stand there.

    `stood` (N, T) has the newest last. The hour in which one comes there is not counted.
    """
    count = np.concatenate([np.zeros((len(stood), 1), dtype=np.int64), np.cumsum(stood, axis=1)], axis=1)
    until = np.maximum(stood.shape[1] - since_h - 1, 0)
    start = np.maximum(until - c.SUPPLY_STRAY_BACK_H, 0)
    ends = np.take_along_axis(count, np.stack([start, until], axis=1), axis=1)
    return np.asarray(ends[:, 1] - ends[:, 0])


def _since(seen: _Dry) -> int | None:
    """Hours since which so many containers are dry without a break that a line may be cut off; None if they are not."""
    total = len(seen.which)
    if total < c.SUPPLY_LEAST:
        return None
    least = max(c.SUPPLY_HOLD_SHARE * total, c.SUPPLY_LEAST)
    for dry, some in ((seen.high, least), (seen.far, c.SUPPLY_FAR_LEAST)):
        few = np.flatnonzero(np.flip(dry.sum(axis=0)) < some)
        run = int(few[0]) if len(few) else dry.shape[1]
        if run and _left_together(seen.since_h[dry[:, -1]])[0] >= some:
            return run - 1
    return None


def _left_together(since_h: NDArray[np.int64], within_h: int = c.SUPPLY_WITHIN_H) -> tuple[int, int]:
    """Most containers that left their usual range within some hours of one another and have not come back.

    And the hours since the first of them did.
    """
    began = np.sort(since_h[since_h > 0])
    if not len(began):
        return 0, 0
    count = np.searchsorted(began, began + within_h, side="right") - np.arange(len(began))
    last = int(np.argmax(count))
    return int(count[last]), int(began[last + count[last] - 1])


def _lacks(sight: Sight, line: int, seen: _Dry, hours: int) -> bool:
    """Whether about half of the line has had no water since the first of those that dry together left its usual range.

    One that stands high has had none to speak of: a very dry pot's tension falls by itself at night. That others had
    none tells only after some hours of light, since in the dark none is due; and where far more had some it tells
    nothing, since they were not due. Two alone that are not far from usual are so by chance.
    """
    _, first_h = _left_together(seen.since_h[seen.unwatered[:, -hours - 1 :].any(axis=1)])
    dry, had_none = seen.since_h > 0, seen.lacks_h > first_h
    few = dry.sum() < min(c.SUPPLY_ALONE, len(dry)) and seen.far[:, -1].sum() < c.SUPPLY_FAR_LEAST
    if few or dry.sum() < c.SUPPLY_DUE_SHARE * (dry | ~had_none).sum():
        return False
    lit = _lit_hours(sight, int(sight.place.line_room[line]), first_h) >= c.SUPPLY_LACK_LIT_H
    lack = dry | had_none if lit else dry
    return bool(lack.sum() >= c.SUPPLY_LACK_SHARE * len(seen.which))


def _tail(seen: _Dry) -> bool:
    """Whether several have gone far from usual together, as they do behind an air lock while the rest is watered.

    Three that left it within the same half day, and no few among many that had water since; or two at once on a short
    line.
    """
    since_h = seen.since_h[seen.far[:, -1]]
    at_once, (some, first_h) = _left_together(since_h, c.SUPPLY_AT_ONCE_H)[0], _left_together(since_h)
    dry = seen.since_h > 0
    few = dry.sum() < c.SUPPLY_TAIL_SHARE * (dry | (seen.lacks_h <= first_h)).sum()
    together = some >= c.SUPPLY_ALONE and not few
    return together or at_once >= max(c.SUPPLY_FAR_LEAST, c.SUPPLY_AT_ONCE_SHARE * len(seen.which))


def _lit_hours(sight: Sight, room: int, hours: int) -> int:
    """In how many of the last hours lights were planned on in a room."""
    ago = (np.arange(hours) * 3600 + 1800).astype("timedelta64[s]")
    since_on = since_lights_on(sight.facility.zone, sight.as_of - ago, sight.place.lights_on_min[room : room + 1])[0]
    return int((since_on < sight.place.lights_min[room]).sum())


def _cut(sight: Sight, line: int, seen: _Dry, hours: int) -> bool:
    """Whether enough containers have been unwatered at once since some hours ago, for what the reservoir gives."""
    reservoir = int(sight.place.line_reservoir[line])
    known = reservoir != NONE and bool(sight.level.known[reservoir])
    if not (_tail(seen) or _lacks(sight, line, seen, hours)):
        return False
    dry, total = seen.unwatered[:, -hours - 1 :], len(seen.which)
    most, (_, first_h) = int(dry.sum(axis=0).max()), _left_together(seen.since_h[dry.any(axis=1)])
    far, _ = _left_together(seen.since_h[seen.far[:, -hours - 1 :].any(axis=1)])
    # On a short line three may be a morning's chance.
    alone = most >= max(c.SUPPLY_SHARE * total, c.SUPPLY_ALONE) and (
        first_h >= c.SUPPLY_ALONE_H or total >= c.SUPPLY_LONG
    )
    if not known:
        return alone or far >= c.SUPPLY_ALONE
    share = share_of_line(sight, line, reservoir)
    if far >= c.SUPPLY_FAR_LEAST and not supplied(sight, reservoir, hours, share * far / total, c.SUPPLY_FAR_SIGMAS):
        return True
    if most < c.SUPPLY_LEAST:
        return False
    # What it gives tells only where most have been up from wet for long enough to draw.
    if np.median(seen.dried_h) > min(hours, c.SUPPLY_WET_H) + max(c.SUPPLY_SPANS_H):
        if gives_less(sight, reservoir, hours, 1.0 - share * (1.0 - c.SUPPLY_STOPS), c.SUPPLY_STOPS_SIGMAS):
            return most >= c.SUPPLY_HOLD_SHARE * total
        if gives_less(sight, reservoir, hours, 1.0 - share * (1.0 - c.SUPPLY_LESS), c.SUPPLY_LESS_SIGMAS):
            return most >= c.SUPPLY_SHARE * total
    return alone and not supplied(sight, reservoir, hours, share, c.SUPPLY_SIGMAS)


def _behind(sight: Sight, line: int, seen: _Dry) -> Beyond | None:
    """Where all beyond some container have dried, and that is no chance for what the reservoir gives."""
    place, reservoir = sight.place, int(sight.place.line_reservoir[line])
    found = beyond(place.along_line[seen.which], seen.asks_h, seen.lacks_h, seen.dried_h)
    if found is None:
        return None
    if reservoir == NONE or not sight.level.known[reservoir]:
        return found if found.alone else None
    share = share_of_line(sight, line, reservoir) / len(seen.which)
    if found.alone and not supplied(sight, reservoir, found.hours, share * found.hang, c.SUPPLY_SIGMAS):
        return found
    given = 1.0 - share * found.dry * (1.0 - c.SUPPLY_STOPS)
    told = found.together and gives_less(sight, reservoir, 0, given, c.BEYOND_TOGETHER_SIGMAS)
    return found if told else None


def _others_wetter(sight: Sight, line: int, seen: _Dry) -> bool:
    """Whether half as many containers of the room as are dry, two at least, have slid wetter than they usually are.

    Where a valve is closed none does; where emitters of a room creep, some creep wetter, day by day. One that a can
    took there, at once, tells nothing.
    """
    place = sight.place
    which = np.flatnonzero((place.room_of == place.line_room[line]) & sight.tension.known)
    since = np.fmax(place.tension.since[which], sight.settling.history_from[which])
    hourly = cut(sight.frame.coarse, sight.tension.row[which], since, c.WETTER_HOURS)
    now = nanmedian(cut(sight.frame.fine, sight.tension.row[which], since, c.NOW_STEPS))
    known = habits(sight, which)
    with np.errstate(invalid="ignore"):
        lowest = _lowest(hourly[:, : -c.WETTER_LATE_H])
        deep = c.DEEP_FALLS * np.fmax(known.usual_fall, c.LEAST_FALL_MBAR)
        poured = deepest_fall(hourly, c.WETTER_POURED_H) >= deep
        wetter = (now <= lowest - c.WETTER_MBAR) & ~poured
    dry = int((seen.since_h > 0).sum())
    return bool(wetter.sum() >= max(2, 0.5 * dry))


def _lowest(hourly: NDArray[np.float32]) -> NDArray[np.float64]:
    """What all but a few hours (N, T) stayed above (N,); NaN where nothing is known."""
    ordered = np.sort(hourly.astype(np.float64), axis=1)  # NaN last
    place = (c.WETTER_SHARE * np.isfinite(ordered).sum(axis=1)).astype(np.int64)
    return np.asarray(np.take_along_axis(ordered, place[:, np.newaxis], axis=1)[:, 0])


def _finding(sight: Sight, line: int, seen: _Dry, behind: Beyond | None, hours: int) -> Finding:
    place = sight.place
    thing, reservoir = place.lines[line], int(place.line_reservoir[line])
    dry = (seen.asks_h > 0) & np.isfinite(seen.over_mbar)
    causes: tuple[Key, ...] = () if reservoir == NONE else (("reservoir-empty", place.reservoirs[reservoir].id),)
    return Finding(
        kind="supply-interrupted",
        subject=Subject("line", thing.id, thing.name),
        room_id=place.rooms[place.line_room[line]].id,
        since=moment(sight.as_of - np.timedelta64(hours, "h")),
        evidence={
            "containers": int(dry.sum()),
            "of_containers": len(seen.which),
            "tension_mbar": rounded(np.median(seen.now_mbar[dry])) if dry.any() else None,
            "above_usual_peak_mbar": rounded(np.median(seen.over_mbar[dry])) if dry.any() else None,
            "dry_from": None if behind is None else place.containers[seen.which[behind.first]].name,
            "level_mm": rounded(sight.levels.last_mm[reservoir]) if reservoir != NONE else None,
        },
        explained_by=causes,
    )

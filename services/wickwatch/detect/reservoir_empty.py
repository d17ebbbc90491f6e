"""reservoir-empty: the level stands at or below the outlet plus the head the line needs.

Judged on the newest reading and on the line through those before it, whichever is sooner, because a call that waits
for a grid comes too late. Of many noisy readings some are low long before the level is: they count once the line will
be there within the hour, as fast as it falls or usually falls then. One reading far off that line is doubted for a few
minutes: a wave, or an echo lost. Once lights have gone off the level comes to rest while that line falls on for an
hour; until it has bent, only the newest of its readings count.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.clock import hours_since, local_minutes, moment, since_lights_on
from wickwatch.detect.evidence import iso, rounded
from wickwatch.detect.finding import Finding
from wickwatch.detect.sight import Sight, subject
from wickwatch.detect.window import last_valid, last_where, numbers


def find(sight: Sight) -> list[Finding]:
    """Findings of reservoirs that are empty now; those with a silent level sensor are left out."""
    place, view = sight.place, sight.levels
    known = sight.level.known
    with np.errstate(invalid="ignore"):
        close = view.last_mm <= place.empty_mm + c.EMPTY_RELEASE_MM
    if not (known & close).any():
        return []
    usual = _as_expected(sight)
    usual_fall = _usual_fall(sight)
    with np.errstate(invalid="ignore"):
        # The slope of a line through two hours is known to about its end's error per hour.
        fall = np.fmax(-view.slope_mm_per_h - c.EMPTY_SLOPE_SE * view.se_mm, usual_fall)
        near = view.now_mm <= place.empty_mm + c.EMPTY_NEAR_H * fall
        by_reading = (view.last_mm <= place.empty_mm) & np.where(usual, near, _confirmed(sight))
        by_line = view.now_mm <= place.empty_mm - c.EMPTY_EARLY_H * view.slope_mm_per_h
        # Of a reading far off the line, high or low, the line knows nothing: that is a refill or a fault.
        by_line &= usual
    in_dark = np.minimum(usual_fall, _usual_fall(sight, 1))
    dusk = _dusk(sight, in_dark) & close & usual
    by_line[dusk] = False
    by_reading[dusk] &= _reached(sight, np.flatnonzero(dusk), in_dark[dusk])
    empty = close & (by_reading | by_line | _still(sight, close))
    since = _since(sight)
    return [_finding(sight, number, since[number]) for number in numbers(known & empty)]


def not_clear(sight: Sight) -> NDArray[np.int64]:
    """Numbers of reservoirs that are not clear of empty: one that was found empty is so until somebody fills it."""
    view, empty_mm = sight.levels, sight.place.empty_mm
    with np.errstate(invalid="ignore"):
        close = view.now_mm <= empty_mm + c.EMPTY_RELEASE_MM
        close &= view.last_mm <= empty_mm + c.LEVEL_RISE_MM  # the first reading after a refill ends it
    return np.flatnonzero(sight.level.known & close)


def _dusk(sight: Sight, usual_fall: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Where lights went off some hours ago, or will soon, and the line falls far faster than is usual then (R,)."""
    place, room = sight.place, sight.place.reservoir_room
    since_on = since_lights_on(sight.facility.zone, np.array([sight.as_of]), place.lights_on_min[room])[:, 0]
    since_off = since_on - place.lights_min[room]
    with np.errstate(invalid="ignore"):
        slower = usual_fall <= -c.EMPTY_DUSK_SHARE * sight.levels.slope_mm_per_h
    return np.asarray((since_off >= -60.0 * c.EMPTY_EARLY_H) & (since_off < c.EMPTY_DUSK_MIN) & slower)


def _reached(sight: Sight, which: NDArray[np.int64], usual_fall: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether the newest buckets of reservoirs (N,) show them at empty, or as near as they usually fall in an hour."""
    place = sight.place
    often = place.level.interval_s[which] * c.EMPTY_OFTEN <= sight.frame.fine.step / np.timedelta64(1, "s")
    series = sight.levels.series_mm[which]
    few, many = (nanmedian(series[:, -steps:]) for steps in (c.EMPTY_DUSK_OFTEN_STEPS, c.EMPTY_DUSK_STEPS))
    with np.errstate(invalid="ignore"):
        near = np.where(often, few, many) <= place.empty_mm[which] + c.EMPTY_NEAR_H * usual_fall
    return np.asarray(near)


def _usual_fall(sight: Sight, in_h: int = 0) -> NDArray[np.float64]:
    """How fast the level usually falls near empty, at this hour or in some hours [mm/h]; NaN where nothing tells."""
    place = sight.place
    minute = local_minutes(sight.facility.zone, np.array([sight.as_of + np.timedelta64(in_h, "h")]))[0]
    per_mm = place.tanks.litres(place.empty_mm + 1.0) - place.tanks.litres(place.empty_mm)
    usual = sight.usual_draw.usual_l_per_h[:, minute // 60]
    return np.asarray(usual / np.where(per_mm > 0.0, per_mm, np.nan))


def _still(sight: Sight, close: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Where the level came to rest at empty since it last stood clearly above, and is not clear of it yet.

    Judged on medians over `EMPTY_LOW_STEPS` buckets: of single noisy ones some are low long before the level is.
    """
    found, which = np.zeros(len(close), dtype=np.bool_), np.flatnonzero(close)
    series, empty = sight.levels.series_mm[which], sight.place.empty_mm[which, np.newaxis]
    smooth = nanmedian(np.lib.stride_tricks.sliding_window_view(series, c.EMPTY_LOW_STEPS, axis=1))
    with np.errstate(invalid="ignore"):
        found[which] = last_where(smooth <= empty + c.EMPTY_REST_MM) > last_where(smooth > empty + c.EMPTY_RELEASE_MM)
    return found


def _as_expected(sight: Sight) -> NDArray[np.bool_]:
    view = sight.levels
    with np.errstate(invalid="ignore"):
        return np.asarray(np.abs(view.last_mm - view.at_last_mm) <= c.LEVEL_JUMP_MM)


def _confirmed(sight: Sight) -> NDArray[np.bool_]:
    """Where a low newest reading, unlike those before it, is borne out by a second one or by time."""
    place, signal, frame = sight.place, sight.level, sight.frame
    age_s = 3600.0 * hours_since(signal.at, sight.as_of)
    end = frame.fine.start + frame.fine.mean.shape[1] * frame.fine.step
    row = signal.row
    low, mean, high = (
        np.append(each[:, -1], np.nan)[row] for each in (frame.fine.low, frame.fine.mean, frame.fine.high)
    )
    empty_sensor_mm = place.empty_mm - place.zero_mm
    step_s = frame.fine.step / np.timedelta64(1, "s")
    with np.errstate(invalid="ignore", divide="ignore"):
        # Readings in the last whole bucket, and the share of them that were low, from its mean between its ends.
        readings = np.maximum(step_s / place.level.interval_s, 1.0)
        share = np.where(high <= empty_sensor_mm, 1.0, (high - mean) / (high - low))
        lows = np.where(low <= empty_sensor_mm, share * readings, 0.0) + (signal.at >= end)
        return np.asarray((age_s >= c.LEVEL_DOUBT_S) | (lows >= 1.5))


def _since(sight: Sight) -> NDArray[np.datetime64]:
    """Beginning of the first bucket at or below empty since the level last stood clearly above it; NaT for none."""
    place, fine, series = sight.place, sight.frame.fine, sight.levels.series_mm
    empty = place.empty_mm[:, np.newaxis]
    with np.errstate(invalid="ignore"):
        above = last_valid(np.where(series > empty + c.EMPTY_RELEASE_MM, 1.0, np.nan))
        low = (series <= empty) & (np.arange(series.shape[1]) > above[:, np.newaxis])
    first = np.where(low.any(axis=1), np.argmax(low, axis=1), -1)
    return np.where(first >= 0, fine.start + first * fine.step, np.datetime64("NaT", "us"))


def _finding(sight: Sight, number: int, since: np.datetime64) -> Finding:
    place, view = sight.place, sight.levels
    reservoir = place.reservoirs[number]
    onset = sight.as_of if np.isnat(since) else since
    which = np.array([number])
    left = place.tanks.litres(np.array([view.last_mm[number], place.empty_mm[number]]), np.repeat(which, 2))
    return Finding(
        kind="reservoir-empty",
        subject=subject(reservoir),
        room_id=place.rooms[place.reservoir_room[number]].id,
        since=moment(onset),
        evidence={
            "level_mm": rounded(view.last_mm[number]),
            "empty_level_mm": rounded(place.empty_mm[number]),
            "volume_l": rounded(left[0]),
            "usable_l": rounded(max(left[0] - left[1], 0.0)),
            "fall_mm_per_h": rounded(-view.slope_mm_per_h[number]),
            "empty_since": iso(onset),
            "containers": int((place.reservoir_of == number).sum()),
        },
    )

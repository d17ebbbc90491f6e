"""Lines none of whose containers has been watered for hours in which some always are.

A line that is cut off is told by its containers as they dry beyond what is usual, but that takes each of them hours.
Much sooner nobody is watered any more: of ten containers some are every hour or two. Where some of them stand above
their usual peak, so that they ask for water, and their reservoir gives far less than usual, nothing else explains it.
How many must stand there, how little is given and how many waterings are missing make up for one another.
Not here: containers that have dried (`supply_interrupted`).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.excess import excess
from wickwatch.detect.fall import deepest_fall
from wickwatch.detect.habits import habits, is_wet
from wickwatch.detect.layout import NONE
from wickwatch.detect.sight import Sight
from wickwatch.detect.window import cut


class _Sign(NamedTuple):
    """What together tells: the share of a line's containers that ask, and how many; what it is given at most, as a
    share of usual and by how many standard errors; how many are usually watered, on all but one day and on average.
    """

    asking_share: float
    asking_least: int
    given: float
    sigmas: float
    waterings_least: int
    waterings: int


class _Waterings(NamedTuple):
    """N containers of a line by the hour and now: tension [mbar] (N, T), the fall that is a watering of each [mbar]
    (N,), and when each was wetter than its waterings leave it (N, T).
    """

    tension_mbar: NDArray[np.float64]
    fall_mbar: NDArray[np.float64]
    wet: NDArray[np.bool_]

    def among(self, which: NDArray[np.bool_]) -> _Waterings:
        """Those of the containers (N,)."""
        return _Waterings(self.tension_mbar[which], self.fall_mbar[which], self.wet[which])

    def watered(self, back: int, hours: int) -> int:
        """How many were watered in so many hours up to `back` hours ago."""
        until = self.tension_mbar.shape[1] - back
        return int((deepest_fall(self.tension_mbar[:, max(until - hours - 1, 0) : until]) >= self.fall_mbar).sum())


_SIGNS = [_Sign(*each) for each in c.UNSERVED_SIGNS]


def unserved(sight: Sight, line: int, asks_h: NDArray[np.int64]) -> int | None:
    """Hours for which no container of a line was watered, but for one in many, though they should have been; else None.

    `asks_h` (N,): hours for which those of its containers that tell have stood above their usual peak, 0 where one does
    not. It goes on while those that told of it still stand there.
    """
    place, reservoir = sight.place, int(sight.place.line_reservoir[line])
    which = np.flatnonzero(sight.tension.known & (place.line_of == line))
    if reservoir == NONE or not sight.level.known[reservoir]:
        return None
    # All may reach their peak at once where lights came on late, and are watered then.
    if not (asks_h > 1).any():
        return None
    seen = _waterings(sight, which)
    for back in c.UNSERVED_BACK_H:
        if seen.watered(0, back) > len(which) // c.UNSERVED_HOLDS:
            break
        asking = (asks_h > back).sum()
        signs = [each for each in _SIGNS if asking >= max(each.asking_share * len(which), each.asking_least)]
        if signs:
            signs = _given_less(sight, line, reservoir, back, signs)
        if signs and (hours := _unwatered(seen, back, signs)) is not None:
            return back + hours
    return None


def share_of_line(sight: Sight, line: int, reservoir: int) -> float:
    """Share of the reservoir's containers that hang on the line."""
    place = sight.place
    of_line = place.stands_for[place.line_of == line].sum()
    return float(of_line / max(place.stands_for[place.reservoir_of == reservoir].sum(), 1))


def _given_less(sight: Sight, line: int, reservoir: int, back: int, signs: list[_Sign]) -> list[_Sign]:
    """Those of the signs as little as which the reservoir gave, of the line's part of what is usual, some hours ago."""
    spans = np.array(c.UNSERVED_SPANS_H)
    seen = excess(sight, np.full(len(spans), reservoir), spans, float(back), c.UPTAKE_LEAST)
    usual_l, missing_l = share_of_line(sight, line, reservoir) * seen.usual_l, seen.usual_l - seen.drawn_l

    def less(sign: _Sign) -> bool:
        with np.errstate(invalid="ignore"):
            far = (missing_l >= (1.0 - sign.given) * usual_l) & (missing_l >= sign.sigmas * seen.sigma_l)
        return bool(far.any())

    return [each for each in signs if less(each)]


def _waterings(sight: Sight, which: NDArray[np.int64]) -> _Waterings:
    """Waterings of containers as far back as they are asked for."""
    since = np.fmax(sight.place.tension.since[which], sight.settling.history_from[which])
    steps = 24 * c.UNSERVED_DAYS + c.UNSERVED_MOST_H + max(c.UNSERVED_BACK_H) + 1
    hourly = cut(sight.frame.coarse, sight.tension.row[which], since, steps)
    now = nanmedian(cut(sight.frame.fine, sight.tension.row[which], since, c.NOW_STEPS))
    known, tension = habits(sight, which), np.column_stack([hourly, now])
    return _Waterings(tension, c.SUPPLY_WATERED * known.usual_fall, is_wet(tension, known.usual_top, known))


def _unwatered(seen: _Waterings, back: int, signs: list[_Sign]) -> int | None:
    """Hours, to the hour begun, for which none was watered some hours ago, if as many usually are as a sign asks.

    Containers that were wet in these hours were not due, and are not missed.
    """
    for spared in sorted({0, len(seen.wet) // c.UNSERVED_SPARED}):
        hours = 0
        while hours < c.UNSERVED_MOST_H and seen.watered(back, hours + 1) <= spared:
            hours += 1
        # One of the days may have been like this one.
        until = seen.wet.shape[1] - back
        due = np.asarray(~seen.wet[:, max(until - hours - 1, 0) : until].any(axis=1))
        missing = np.sort(_usually_watered(seen.among(due), back, hours)) - spared
        if len(missing) > 1 and any(
            missing[1] >= each.waterings_least and missing.mean() - spared >= each.waterings for each in signs
        ):
            return hours
    return None


def _usually_watered(seen: _Waterings, back: int, hours: int) -> NDArray[np.int64]:
    """How many were watered in the same hours of each of the days before (D,) of which something is known."""
    found = []
    for day in range(1, c.UNSERVED_DAYS + 1):
        until = seen.tension_mbar.shape[1] - back - 24 * day
        if until > hours and np.isfinite(seen.tension_mbar[:, until - hours - 1 : until]).any():
            found.append(seen.watered(back + 24 * day, hours))
    return np.array(found, dtype=np.int64)

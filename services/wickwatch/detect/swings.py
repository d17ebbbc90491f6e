"""The rises and falls of tension between turning points: drying between two waterings, and the waterings themselves.

A container on a working emitter draws a sawtooth: it dries, is watered, dries. How far it usually rises before it is
watered, and falls when it is, is its own measure of what is unusual. Not here: what follows from an unusual one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import constants as c


@dataclass(frozen=True)
class Turns:
    """Finished swings of N series, oldest first: size (N, K), and column that showed the end; NaN and -1 for none."""

    size: NDArray[np.float32]
    column: NDArray[np.int32]

    def before(self, column: int) -> NDArray[np.float32]:
        """Sizes of those that ended before a column; NaN for the others."""
        return np.where((self.column >= 0) & (self.column < column), self.size, np.float32(np.nan))

    def usual(self, column: int) -> NDArray[np.float64]:
        """The share named in the table of those before a column (N,), NaN where fewer than the least were seen."""
        found = self.before(column)
        if not found.shape[1]:
            return np.full(len(found), np.nan)
        ordered = np.sort(found, axis=1)  # NaN last
        number = np.isfinite(ordered).sum(axis=1)
        place = np.clip(np.ceil(c.SWING_SHARE * number).astype(np.int64) - 1, 0, found.shape[1] - 1)
        share = np.take_along_axis(ordered, place[:, np.newaxis], axis=1)[:, 0].astype(np.float64)
        return np.where(number >= c.SWINGS_NEEDED, share, np.nan)


@dataclass(frozen=True)
class State:
    """Where N series are after their last value, (N,): `sign` 1 while drying and -1 while being watered, the extreme
    `reached` that way times the sign, and the `turn` before it.
    """

    sign: NDArray[np.float32]
    reached: NDArray[np.float32]
    turn: NDArray[np.float32]

    def rise(self, values: NDArray[np.float32], turn_mbar: float) -> NDArray[np.float64]:
        """How far one more value (N,) of each series stands above the last low; 0 while falling."""
        signed = values * self.sign
        reached = np.maximum(self.reached, signed)
        turned = signed < reached - turn_mbar
        rising = np.where(self.sign > 0, ~turned, turned)
        low = np.where(turned, reached * self.sign, self.turn)
        return np.where(rising, values - low, 0.0).astype(np.float64)


@dataclass(frozen=True)
class Swings:
    """N series of T values, of which the last J are judged.

    `rise` (N, J): how far each judged value stands above the last low, 0 while falling; a missing one is taken as the
    one before. `peaks`: the heights from which waterings fell; `falls` how far. `usual_rise` (N,): what a large share
    of rises finished before the judged columns stay under; NaN where too few are seen. `state`: where it ended.
    """

    rise: NDArray[np.float32]
    peaks: Turns
    falls: Turns
    usual_rise: NDArray[np.float64]
    state: State


class _Found:
    """Turns as they are found."""

    def __init__(self) -> None:
        self._which: list[NDArray[np.int64]] = []
        self._size: list[NDArray[np.float32]] = []
        self._column: list[int] = []

    def add(self, which: NDArray[np.int64], size: NDArray[np.float32], column: int) -> None:
        if len(which):
            self._which.append(which)
            self._size.append(size)
            self._column.append(column)

    def turns(self, count: int) -> Turns:
        """Laid out in rows, those of one series in the order in which they were found."""
        if not self._which:
            return Turns(np.empty((count, 0), dtype=np.float32), np.empty((count, 0), dtype=np.int32))
        which, size = np.concatenate(self._which), np.concatenate(self._size)
        column = np.repeat(np.array(self._column, dtype=np.int32), [len(each) for each in self._which])
        order = np.argsort(which.astype(np.min_scalar_type(count)), kind="stable")  # small numbers sort much faster
        which, turns_of = which[order], np.bincount(which, minlength=count)
        place = np.arange(len(which)) - np.repeat(np.cumsum(turns_of) - turns_of, turns_of)
        shape = (count, int(place.max()) + 1)
        turns = Turns(np.full(shape, np.nan, dtype=np.float32), np.full(shape, -1, dtype=np.int32))
        turns.size[which, place], turns.column[which, place] = size[order], column[order]
        return turns


def swings(values: NDArray[np.float32], turn_mbar: float, judged: int) -> Swings:
    """Follow N series (N, T); a turn is a reversal of at least `turn_mbar`. The last `judged` columns are judged."""
    count, length = values.shape
    past = max(length - judged, 0)
    columns = np.ascontiguousarray(_whole(values).T)
    rise = np.zeros((length - past, count), dtype=np.float32)
    rises, falls, peaks = (_Found() for _ in range(3))
    # Per series: which way it goes, the extreme it has reached that way (times the sign), and the turn before.
    sign = np.ones(count, dtype=np.float32)
    reached = columns[0].copy() if length else np.zeros(count, dtype=np.float32)
    turn = reached.copy()
    for step in range(length):
        signed = columns[step] * sign
        np.maximum(reached, signed, out=reached)
        turned = np.flatnonzero(signed < reached - turn_mbar)
        if len(turned):
            dried = sign[turned] > 0
            extreme = reached[turned] * sign[turned]
            size = np.abs(extreme - turn[turned])
            rises.add(turned[dried], size[dried], step)
            peaks.add(turned[dried], extreme[dried], step)
            falls.add(turned[~dried], size[~dried], step)
            turn[turned] = extreme
            sign[turned] = -sign[turned]
            reached[turned] = columns[step][turned] * sign[turned]
        if step >= past:
            rise[step - past] = np.where(sign > 0, columns[step] - turn, 0.0)
    state = State(sign, reached, turn)
    usual_rise = rises.turns(count).usual(past)
    return Swings(np.ascontiguousarray(rise.T), peaks.turns(count), falls.turns(count), usual_rise, state)


def _whole(values: NDArray[np.float32]) -> NDArray[np.float32]:
    """Gaps filled with the value before, at the beginning with the first one; 0 where there is none at all."""
    known = np.isfinite(values)
    column = np.arange(values.shape[1])
    source = np.maximum.accumulate(np.where(known, column, -1), axis=1)
    source = np.where(source < 0, np.argmax(known, axis=1)[:, np.newaxis], source)
    return np.nan_to_num(np.take_along_axis(values, source, axis=1))

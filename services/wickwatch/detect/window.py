"""Rows and columns of a grid as a detector wants them: its subjects in its order, gone before their assignment.

Not here: any statistic.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect.frame import Grid

Which = Literal["mean", "low", "high"]


def cut(
    grid: Grid,
    rows: NDArray[np.int64],
    since: NDArray[np.datetime64],
    steps: int | None = None,
    which: Which = "mean",
) -> NDArray[np.float32]:
    """The last `steps` buckets (all without it) of the given rows, float32 of shape (N, steps), a copy.

    NaN for rows of -1, and before `since` (N,), where the channel measured something else; NaT means always.
    """
    values: NDArray[np.float32] = getattr(grid, which)
    total = values.shape[1]
    first = 0 if steps is None else max(total - steps, 0)
    if not len(values):
        return np.full((len(rows), total - first), np.nan, dtype=np.float32)
    taken = values[:, first:][rows]
    taken[rows < 0] = np.nan
    # Buckets that began before the assignment, counted from `first`; none for NaT.
    with np.errstate(invalid="ignore"):
        early = np.ceil(np.nan_to_num((since - grid.start) / grid.step, nan=0.0)) - first
    for number in np.flatnonzero(early > 0):
        taken[number, : int(min(early[number], total))] = np.nan
    return taken


def chunks(count: int, size: int) -> Iterator[NDArray[np.int64]]:
    """Numbers 0..count-1 in runs of at most `size`, so that copies of 20,000 rows never exist at once."""
    for first in range(0, count, size):
        yield np.arange(first, min(first + size, count))


def add_by(into: NDArray[np.float64], group: NDArray[np.int64], values: NDArray[np.floating]) -> None:
    """Add values (N, …) to the rows of their groups (N,) in `into`; groups stand side by side.

    Sums over what stands side by side are several times as fast as adding row by row.
    """
    first = np.flatnonzero(np.diff(group, prepend=-1))
    if len(first):
        into[group[first]] += np.add.reduceat(values, first, axis=0)


def last_valid(values: NDArray[np.floating]) -> NDArray[np.int64]:
    """Column of the last value that is not NaN in each row, -1 where there is none; shape (N,)."""
    return last_where(np.isfinite(values))


def last_where(holds: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Column of the last place in each row where something holds, -1 where there is none; shape (N,)."""
    last = holds.shape[1] - 1 - np.argmax(holds[:, ::-1], axis=1)
    return np.where(holds.any(axis=1), last, -1)


def runs(holds: NDArray[np.bool_]) -> NDArray[np.int64]:
    """For how many columns on end, up to each one, something has held; 0 where it does not; shape (N, T)."""
    column = np.arange(holds.shape[1])
    return np.asarray(column - np.maximum.accumulate(np.where(holds, -1, column), axis=1))


def back_from(values: NDArray[np.float32], column: NDArray[np.int64], steps: int) -> NDArray[np.float32]:
    """The value in a column (N,) of each row and those before it, the newest first, (N, steps); NaN before the grid."""
    columns = column[:, np.newaxis] - np.arange(steps)
    there = np.take_along_axis(values, np.maximum(columns, 0), axis=1)
    return np.where(columns >= 0, there, np.float32(np.nan))


def bridged(values: NDArray[np.float32], longest: NDArray[np.int64]) -> NDArray[np.float32]:
    """Gaps of at most `longest` (N,) buckets filled by straight lines, at the end by the last value; shape (N, T).

    A channel that reports every 10 minutes fills every second 5-minute bucket; this makes it whole.
    """
    holed = np.flatnonzero(np.isnan(values).any(axis=1))
    filled = values.copy()
    filled[holed] = _bridged(values[holed], longest[holed])
    return filled


def _bridged(values: NDArray[np.float32], longest: NDArray[np.int64]) -> NDArray[np.float32]:
    column = np.arange(values.shape[1])
    valid = np.isfinite(values)
    before = np.maximum.accumulate(np.where(valid, column, -1), axis=1)
    after = np.flip(np.minimum.accumulate(np.flip(np.where(valid, column, values.shape[1]), axis=1), axis=1), axis=1)
    first = np.take_along_axis(values, np.maximum(before, 0), axis=1)
    last = np.take_along_axis(values, np.minimum(after, values.shape[1] - 1), axis=1)
    ends = after == values.shape[1]
    share = np.where(ends | valid, 0.0, (column - before) / np.maximum(after - before, 1)).astype(np.float32)
    gap = np.where(ends, column, after) - before - ~ends
    usable = (before >= 0) & (valid | (gap <= longest[:, np.newaxis]))
    return np.where(usable, first + share * np.where(ends, 0.0, last - first), np.nan).astype(np.float32)


def numbers(where: NDArray[np.bool_]) -> list[int]:
    """Numbers of the subjects for which something holds, as plain integers."""
    return [int(number) for number in np.flatnonzero(where)]

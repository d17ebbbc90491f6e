"""Supply lines: head lost between reservoir and drip points by laminar friction, in a loop or a dead end.

Losses are linear in flow, so one matrix per line tells the loss at each position from the flow at each. Air locks and
closed valves are a share of flow that still passes, per container (`effects`). Not here: the reservoir's head.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wickwatch.agronomy.arrays import Floats
from wickwatch.agronomy.hydraulics import laminar_pipe


def segment_loss(bore_mm: float, length_m: float) -> float:
    """Head lost [mm] per flow [l/h] in a piece of tube at 20 degC (Hagen-Poiseuille)."""
    return float(laminar_pipe(bore_mm, length_m).resistance)


def loss_matrix(kind: str, positions: int, loss_mm_per_l_h: float) -> Floats:
    """Loss [mm] at each position per flow [l/h] at each, shape (P, P), outlets spaced equally.

    Dead end: water for j passes the segments up to min(i, j). Loop: both ends are at the reservoir, which is the
    influence line of a string fixed at both ends; the far legs carry half.
    """
    at = np.arange(1, positions + 1, dtype=np.float64)
    near, far = np.minimum.outer(at, at), np.maximum.outer(at, at)
    if kind == "loop":
        return np.asarray(loss_mm_per_l_h * near * (positions + 1 - far) / (positions + 1))
    return np.asarray(loss_mm_per_l_h * near)


def stacked(matrices: Sequence[Floats]) -> Floats:
    """Matrices of all lines in one array of shape (L, P, P), P the longest line; shorter ones are padded with zeros."""
    longest = max(m.shape[0] for m in matrices)
    out = np.zeros((len(matrices), longest, longest))
    for i, matrix in enumerate(matrices):
        out[i, : len(matrix), : len(matrix)] = matrix
    return out


def losses(stack: Floats, flows_l_per_h: Floats) -> Floats:
    """Loss [mm] at every position of every line, shape (L, P), from flows of the same shape."""
    return np.asarray(np.matmul(stack, flows_l_per_h[:, :, np.newaxis])[:, :, 0])

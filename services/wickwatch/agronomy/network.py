"""Flows and heads in a small network of pipes with loops.

Here: a Newton solve of node heads and pipe flows together, after Todini and Pilati 1987 (from memory). Not
here: pumps, valves and time. Dense matrices on purpose: a facility's line has tens of nodes, not thousands.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wickwatch.agronomy.arrays import Floats, Ints, floats
from wickwatch.agronomy.hydraulics import PowerLaw
from wickwatch.errors import InputError


@dataclass(frozen=True)
class Solution:
    """Flows [l/h] of each pipe, positive from its first node to its second, and heads [mm] of each node."""

    flow_l_per_h: Floats
    head_mm: Floats


def solve(
    pipes: PowerLaw,
    ends: ArrayLike,
    draw_l_per_h: ArrayLike,
    fixed_head_mm: ArrayLike,
    *,
    tolerance: float = 1e-9,
    steps: int = 100,
) -> Solution:
    """Return flows and heads of a network in which every draw is met.

    `ends` has shape (P, 2): the nodes each pipe joins. `draw_l_per_h` (M) is what leaves at each node.
    `fixed_head_mm` (M) is the head of the nodes that feed the network, NaN at all others. Any consistent
    units will do. A pipe at rest settles to a millionth of the largest flow. Raises InputError when no node
    feeds, a node can't be reached from one, or the steps do not settle.
    """
    joined: Ints = np.asarray(ends, dtype=np.int64)
    draw, fixed = floats(draw_l_per_h), floats(fixed_head_mm)
    resistance = np.broadcast_to(floats(pipes.resistance), joined.shape[:1])
    incidence = np.zeros((len(joined), len(draw)))
    rows = np.arange(len(joined))
    incidence[rows, joined[:, 0]] = 1.0
    incidence[rows, joined[:, 1]] = -1.0
    free = np.isnan(fixed)
    inner = incidence[:, free]
    if free.all() or np.linalg.matrix_rank(inner) < inner.shape[1]:
        raise InputError("network", joined.tolist(), "every node joined to one of known head")
    # Heads count from a feeding node: losses of micrometres would drown in the digits of a high reservoir.
    datum = fixed[~free][0]
    feed = incidence[:, ~free] @ (fixed[~free] - datum)

    flow = np.full(len(joined), max(float(np.abs(draw[free]).mean()), 1.0))
    head = fixed.copy()
    for _ in range(steps):
        largest = max(float(np.abs(flow).max()), 1e-12)
        # Slope of each pipe's loss, kept off zero: a pipe at rest would make the system singular.
        moving = np.maximum(np.abs(flow), 1e-6 * largest)
        slope = pipes.exponent * resistance * moving ** (pipes.exponent - 1.0)
        loss = resistance * np.sign(flow) * np.abs(flow) ** pipes.exponent
        ease = 1.0 / slope
        matrix = inner.T @ (ease[:, None] * inner)
        # Loss along a pipe is the head of its first node less that of its second; flows leave first nodes.
        right = -inner.T @ flow + inner.T @ (ease * (loss - feed)) - draw[free]
        inside = np.linalg.solve(matrix, right)
        change = ease * (loss - feed - inner @ inside)
        flow = flow - change
        head[free] = inside + datum
        if np.abs(change).max() <= tolerance * largest:
            return Solution(flow, head)
    raise InputError("network", joined.tolist(), f"one whose flows settle within {steps} steps")

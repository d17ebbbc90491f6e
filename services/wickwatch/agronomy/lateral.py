"""Head lost along a supply line with outlets, fed from one end or from both.

Here: dead-end and loop lines whose segments are power laws, and Christiansen's factor. Not here: one pipe's
law (`hydraulics`) or branched networks (`network`). Outlets are numbered from the feed; draws may differ from
outlet to outlet, which is how a stuck emitter shows.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wickwatch.agronomy.arrays import Floats, floats, not_negative, positive
from wickwatch.agronomy.hydraulics import PowerLaw
from wickwatch.errors import InputError


def christiansen_factor(outlets: ArrayLike, exponent: ArrayLike) -> Floats:
    """Return loss of a dead end with equal outlets / loss with the whole flow to its end (Christiansen 1942).

    F = 1/(m+1) + 1/(2N) + sqrt(m-1)/(6 N^2), the first outlet one spacing from the feed.
    """
    count = positive("number of outlets", outlets)
    m = floats(exponent)
    if np.any(m < 1.0):
        raise InputError("exponent", float(np.nanmin(m)), "1 (laminar) or more")
    return 1.0 / (m + 1.0) + 1.0 / (2.0 * count) + np.sqrt(m - 1.0) / (6.0 * count**2)


def dead_end_loss_mm(segments: PowerLaw, draws_l_per_h: ArrayLike) -> Floats:
    """Return the head lost [mm] from the feed to each outlet of a line fed from one end.

    `draws_l_per_h` has shape (..., N), non-negative; `segments` has N pipes (or one resistance for all), the
    first from the feed to outlet 1. Shape of the result: (..., N).
    """
    draws = not_negative("draw in l/h", draws_l_per_h)
    flow = np.cumsum(draws[..., ::-1], axis=-1)[..., ::-1]
    return floats(np.cumsum(segments.loss_mm(flow), axis=-1))


def loop_flow_l_per_h(segments: PowerLaw, draws_l_per_h: ArrayLike) -> Floats:
    """Return the flow [l/h] in each of the N + 1 segments of a loop, positive away from its first end.

    `draws_l_per_h` has shape (..., N), non-negative; `segments` has N + 1 pipes (or one resistance for all),
    the last from outlet N back to the feed. The loss around the loop rises with the flow let in at the first
    end, so that halving the range finds the one flow at which it is zero, to double precision, whatever the
    law.
    """
    draws = not_negative("draw in l/h", draws_l_per_h)
    drawn = np.concatenate([np.zeros_like(draws[..., :1]), np.cumsum(draws, axis=-1)], axis=-1)
    low, high = np.zeros_like(drawn[..., :1]), drawn[..., -1:]
    for _ in range(60):
        middle = (low + high) / 2.0
        too_much = np.sum(segments.loss_mm(middle - drawn), axis=-1, keepdims=True) > 0.0
        low, high = np.where(too_much, low, middle), np.where(too_much, middle, high)
    return floats((low + high) / 2.0 - drawn)


def loop_loss_mm(segments: PowerLaw, draws_l_per_h: ArrayLike) -> Floats:
    """Return the head lost [mm] from the feed to each outlet of a loop; arguments as `loop_flow_l_per_h`."""
    flow = loop_flow_l_per_h(segments, draws_l_per_h)
    return floats(np.cumsum(segments.loss_mm(flow), axis=-1)[..., :-1])

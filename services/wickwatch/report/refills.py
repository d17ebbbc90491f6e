"""Refills seen in the level against those that somebody wrote down.

Not here: finding refills (`used`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from wickwatch.detect.clock import moment, stamp
from wickwatch.detect.layout import Layout
from wickwatch.fleet import Work
from wickwatch.report.used import Refill
from wickwatch.store.refills import NEAR

Told = Literal["seen and recorded", "seen, not recorded", "recorded, not seen"]


@dataclass(frozen=True)
class Filling:
    """One refill; `litres` is None where it was only written down."""

    reservoir: int
    at: np.datetime64
    litres: float | None
    told: Told
    person: str | None = None


def fillings(place: Layout, seen: Sequence[Refill], work: Sequence[Work]) -> tuple[Filling, ...]:
    """Each refill once, in order of time; of several entries near one rise the nearest is its own."""
    number = {each.id: at for at, each in enumerate(place.reservoirs)}
    entries = [each for each in work if each.kind == "refilled" and each.subject_id in number]
    found = []
    for refill in seen:
        near = [
            each
            for each in entries
            if number[each.subject_id] == refill.reservoir
            and moment(refill.start) - NEAR <= each.at <= moment(refill.end) + NEAR
        ]
        own = min(near, key=lambda each: abs(each.at - moment(refill.end)), default=None)
        if own is not None:
            entries.remove(own)
        told: Told = "seen, not recorded" if own is None else "seen and recorded"
        found.append(Filling(refill.reservoir, refill.start, refill.litres, told, own.person if own else None))
    for each in entries:
        found.append(Filling(number[each.subject_id], stamp(each.at), None, "recorded, not seen", each.person))
    return tuple(sorted(found, key=lambda each: (each.at, each.reservoir)))

"""Refills seen in the level against those that somebody wrote down.

Not here: finding refills (`used`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import numpy as np

from wickwatch.detect.clock import moment, stamp
from wickwatch.detect.layout import Layout
from wickwatch.fleet import Work
from wickwatch.report.used import Refill
from wickwatch.store.refills import told
from wickwatch.texts import N_

Told = Literal["seen and recorded", "seen, not recorded", "recorded, not seen"]

#: The same as a text.
TOLD: Mapping[Told, str] = {
    "seen and recorded": N_("seen and recorded"),
    "seen, not recorded": N_("seen, not recorded"),
    "recorded, not seen": N_("recorded, not seen"),
}


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
    entries: dict[int, list[tuple[Work, datetime]]] = {at: [] for at in number.values()}
    for each in work:
        if each.kind == "refilled" and each.subject_id in number:
            entries[number[each.subject_id]].append((each, each.at))
    found = []
    for refill in seen:
        own = told(entries[refill.reservoir], moment(refill.start), moment(refill.end))
        known: Told = "seen, not recorded" if own is None else "seen and recorded"
        found.append(Filling(refill.reservoir, refill.start, refill.litres, known, own.person if own else None))
    for reservoir, left in entries.items():
        found += [Filling(reservoir, stamp(at), None, "recorded, not seen", each.person) for each, at in left]
    return tuple(sorted(found, key=lambda each: (each.at, each.reservoir)))

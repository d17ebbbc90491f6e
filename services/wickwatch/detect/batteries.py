"""The charge of the batteries that probes and level sensors run on, and where it is low.

A battery is attached to nothing: it goes where its device goes. A low one does not make readings wrong; it foretells
that they will stop. Not here: calling somebody for it (`probe_fault`), nor the silence that follows (`probe_silent`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import constants as c
from wickwatch.detect.clock import stamp
from wickwatch.detect.layout import Attached
from wickwatch.detect.sight import Sight
from wickwatch.detect.window import cut, last_where

Which = Literal["tension", "twin", "level"]


@dataclass(frozen=True)
class Batteries:
    """Batteries of the devices of N attached channels: charge last told (NaN none), low, and from when (NaT not)."""

    percent: NDArray[np.float64]
    low: NDArray[np.bool_]
    low_from: NDArray[np.datetime64]


def of(sight: Sight, which: Which) -> Batteries:
    """Batteries of the containers' own probes, of their second probes, or of the level sensors."""
    return sight.once(f"batteries of {which}", lambda: _batteries(sight, which))


def _batteries(sight: Sight, which: Which) -> Batteries:
    frame, attached = sight.frame, _attached(sight, which)
    # What was told before the device came here, or before its battery was changed, says nothing of it now.
    since = np.fmax(attached.since, _changed(sight, which))
    row = frame.rows(attached.battery)
    at = np.append(frame.last_at, np.datetime64("NaT", "us"))[row]
    told = ~np.isnat(at) & ~(at < since)
    percent = np.where(told, np.append(frame.last_value, np.nan)[row], np.nan)
    rules = sight.place.reservoir_rules if which == "level" else sight.place.container_rules
    limit = rules.of("battery_low_percent")
    with np.errstate(invalid="ignore"):
        low = percent < limit
        near = np.flatnonzero(percent < limit + c.BATTERY_RELEASE_PERCENT)
    low_from = np.where(low, at, np.datetime64("NaT", "us"))
    if len(near):
        # Once low it stays low until it is charged or changed: voltage, which tells charge, comes back with warmth.
        hourly = cut(frame.coarse, row[near], since[near])
        charged = last_where(hourly >= (limit[near] + c.BATTERY_RELEASE_PERCENT)[:, np.newaxis])
        under = (hourly < limit[near][:, np.newaxis]) & (np.arange(hourly.shape[1]) > charged[:, np.newaxis])
        seen = near[under.any(axis=1)]
        low[seen] = True
        low_from[seen] = frame.coarse.start + np.argmax(under, axis=1)[under.any(axis=1)] * frame.coarse.step
    return Batteries(percent, low, low_from)


def _attached(sight: Sight, which: Which) -> Attached:
    return {"tension": sight.place.tension, "twin": sight.place.twin, "level": sight.place.level}[which]


def _changed(sight: Sight, which: Which) -> NDArray[np.datetime64]:
    """When somebody last put in another device or battery, (N,); NaT where nobody wrote that down."""
    at = np.full(len(_attached(sight, which).channel), np.datetime64("NaT", "us"))
    subject_type = "reservoir" if which == "level" else "container"
    for entry in sight.work:
        number = sight.place.number_of.get(entry.subject_id)
        if number is None or entry.subject_type != subject_type or entry.kind != "replaced-probe":
            continue
        if stamp(entry.at) <= sight.as_of:
            at[number] = np.fmax(at[number], stamp(entry.at))
    return at

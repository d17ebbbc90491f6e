"""Settled? Whether a container being set up or re-set is at its set point and quiet, so that the emitter may go in.

Asked by a person standing beside it, so the answer names what is missing. Not here: who is settling because of work
(`settling`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import ArrayLike

from wickwatch.agronomy.arrays import Floats
from wickwatch.agronomy.regression import huber_line
from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.frame import FINE_PER_H
from wickwatch.fleet import Rules
from wickwatch.texts import _, general, number, tension, tension_unit

_STEP = timedelta(minutes=5)


@dataclass(frozen=True)
class Settled:
    """The answer: `ready`, or the `reasons` why not, in words for a page; and the numbers behind it.

    `off_mbar` is how far tension lies from the set point (positive: too dry), `slope_mbar_per_h` how it moves over the
    rule's hours, `ready_at` when it will have stayed at its set point for long enough; `None` where not known.
    """

    ready: bool
    reasons: tuple[str, ...]
    tension_mbar: float | None = None
    off_mbar: float | None = None
    slope_mbar_per_h: float | None = None
    ready_at: datetime | None = None


def no_probe() -> Settled:
    """The answer where nothing measures."""
    return Settled(False, (_("no probe is attached"),))


def silent() -> Settled:
    """The answer where what measures says nothing."""
    return Settled(False, (_("its probe sends nothing"),))


def settled(tension_mbar: Sequence[ArrayLike], end: datetime, rules: Sequence[Rules]) -> tuple[Settled, ...]:
    """Judge containers by their tension, each (T,) of its own length: means of 5 minutes up to `end`, NaN for none.

    Only what was measured in a container may be in its series; a probe that fell silent is the caller's to see
    (`silent`).
    """
    series = [np.asarray(each, dtype=np.float64) for each in tension_mbar]
    steps = [max(round(each.settled_hours * FINE_PER_H), 2) for each in rules]
    slopes = _slopes_mbar_per_h(series, steps)
    return tuple(_judged(*each, end) for each in zip(series, steps, slopes, rules, strict=True))


def _slopes_mbar_per_h(series: Sequence[Floats], steps: Sequence[int]) -> list[float]:
    """Slope over the last steps of each series; all are fitted at once, which costs little more than one."""
    width = max(steps, default=0)
    recent = np.full((len(series), width), np.nan)
    for row, fine, count in zip(recent, series, steps, strict=True):
        last = fine[-count:]
        row[width - len(last) :] = last
    return [float(each) for each in huber_line(recent, np.arange(width) / FINE_PER_H).slope.value] if series else []


def _judged(fine: Floats, steps: int, slope: float, rules: Rules, end: datetime) -> Settled:
    now = float(nanmedian(fine[-c.NOW_STEPS :]))
    off = now - rules.set_point_mbar
    reasons: list[str] = []
    if not abs(off) <= rules.settled_mbar and np.isfinite(off):
        unit = tension_unit()
        told = {"off": tension(abs(off)), "set_point": f"{general(unit.shown(rules.set_point_mbar))} {unit.name}"}
        drier = _("%(off)s drier than its set point of %(set_point)s", **told)
        reasons.append(drier if off > 0 else _("%(off)s wetter than its set point of %(set_point)s", **told))
    if np.isfinite(fine[-steps:]).sum() < min(c.SETTLED_NEEDS, steps) or not np.isfinite(now):
        reasons.append(_("too few readings in the last %(num)s hours", num=general(rules.settled_hours)))
        return Settled(False, tuple(reasons), _plain(now), _plain(off))
    if abs(slope) * rules.settled_hours > c.SETTLED_FLAT * rules.settled_mbar:
        rate = tension(abs(slope), 1)
        drying = _("still drying by %(rate)s an hour", rate=rate)
        reasons.append(drying if slope > 0 else _("still getting wetter by %(rate)s an hour", rate=rate))
    away = np.flatnonzero(np.abs(fine - rules.set_point_mbar) > rules.settled_mbar)
    back = len(fine) - 1 - int(away[-1]) if len(away) else len(fine)
    ready_at = None
    if not reasons and back < steps:
        ready_at = end + (steps - back) * _STEP
        told = {"held": number(back / FINE_PER_H, 1), "num": general(rules.settled_hours)}
        reasons.append(_("at its set point for %(held)s of %(num)s hours", **told))
    return Settled(not reasons, tuple(reasons), _plain(now), _plain(off), round(slope, 2), ready_at)


def _plain(value: float) -> float | None:
    return round(value, 1) if np.isfinite(value) else None

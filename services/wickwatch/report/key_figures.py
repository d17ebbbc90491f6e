"""A report's key figures as numbers: kept with it, and compared when it is made again after late readings.

Not here: how they are laid out on the first page (`front`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from wickwatch.agronomy.trend import nanmedian
from wickwatch.report import words
from wickwatch.report.facts import Facts
from wickwatch.report.used import per_container, total
from wickwatch.texts import N_, _

Figures = Mapping[str, Any]

#: What a figure is called, its unit and digits; only a difference that shows in these digits is one.
NAMES: Mapping[str, tuple[str, str, int]] = {
    "in_band_percent": (N_("time in band"), "%", 1),
    "water_l": (N_("water used"), "l", 0),
    "water_l_per_container_day": (N_("water per container and day"), "l", 2),
    "median_mbar": (N_("median tension"), "mbar", 0),
    "drifting": (N_("emitters surely drifting"), "", 0),
    "refills": (N_("refills"), "", 0),
    "alarms": (N_("alarms"), "", 0),
    "complete_percent": (N_("data measured"), "%", 1),
}


def key_figures(facts: Facts) -> dict[str, Any]:
    """Figures of the whole and of each room by its slug; None where not known, so that they can be kept as JSON."""
    place = facts.place
    rooms = {}
    for room, own in enumerate(place.rooms):
        inside, tanks = np.flatnonzero(place.room_of == room), np.flatnonzero(place.reservoir_room == room)
        rooms[own.slug] = {
            **_figures(facts, inside, tanks),
            "water_l_per_container_day": _number(per_container(place, facts.water.used, room, facts.week), 3),
            "alarms": sum(each.room_id == own.id and each.cause_kind is None for each in facts.alarms),
        }
    whole = _figures(facts, np.arange(len(place.containers)), np.arange(len(place.reservoirs)))
    return {
        "facility": {**whole, "alarms": sum(each.cause_kind is None for each in facts.alarms)},
        "rooms": rooms,
        "reached": None if facts.reached is None else facts.reached.isoformat(),
    }


def changes(before: Figures, now: Figures, names: Mapping[str, str], most: int = 12) -> list[str]:
    """What differs from an earlier edition, in sentences; `names` are the rooms' by slug."""
    found = _differences("", before["facility"], now["facility"])
    for slug, figures in now["rooms"].items():
        own = before["rooms"].get(slug)
        title = names.get(slug, slug)
        found += [_("%(room)s is new in it", room=title)] if own is None else _differences(f"{title}: ", own, figures)
    gone = [names.get(slug, slug) for slug in before["rooms"] if slug not in now["rooms"]]
    found += [_("%(room)s is no longer in it", room=name) for name in gone]
    return [*found[:most], _("and %(number)d more", number=len(found) - most)] if len(found) > most else found


def _figures(facts: Facts, inside: Any, tanks: Any) -> dict[str, float | int | None]:
    seen, used = facts.completeness, facts.water.used
    shares = np.concatenate([seen.probes[inside], seen.levels[tanks]])
    return {
        "in_band_percent": _number(100.0 * facts.tension.band.share(inside), 3),
        "water_l": _number(total(used.litres[tanks]), 2),
        "median_mbar": _number(float(nanmedian(facts.tension.median_mbar[inside])), 2),
        "drifting": int(facts.drift.sure[inside].sum()),
        "refills": int(np.isin([each.reservoir for each in used.refills], tanks).sum()),
        "complete_percent": _number(100.0 * float(np.nanmean(shares)) if np.isfinite(shares).any() else np.nan, 3),
    }


def _number(value: float, digits: int) -> float | None:
    return round(float(value), digits) if np.isfinite(value) else None


def _differences(where: str, before: Figures, now: Figures) -> list[str]:
    found = []
    for name, (title, unit, digits) in NAMES.items():
        old, new = (_shown(each.get(name), digits, unit) for each in (before, now))
        if old != new:
            said = _(title)
            found.append(f"{where}{said} {old} → {new}")
    return found


def _shown(value: float | None, digits: int, unit: str) -> str:
    return words.unknown() if value is None else words.number(value, digits, unit)

"""Numbers and times as a report writes them: rounded, with their unit, and a word where there is nothing to write.

Units are named as they are inside, `mbar` and `l`, and written as the facility reads them; others are written as they
are. Not here: sentences.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np
from babel.numbers import get_decimal_symbol, get_group_symbol

from wickwatch.agronomy.arrays import Floats
from wickwatch.alarms.names import KINDS, WORK
from wickwatch.detect.clock import moment
from wickwatch.texts import Unit, _, named_day, spoken, tension_unit, time_of_day, volume_unit

_UNITS: Mapping[str, Callable[[], Unit]] = {"mbar": tension_unit, "l": volume_unit}


def unknown() -> str:
    """Stands where nothing was measured; a gap must not look like a zero."""
    return _("not known")


def unit_name(unit: str) -> str:
    """A unit as it is read."""
    return _UNITS[unit]().name if unit in _UNITS else unit


def read_in(values: Floats, unit: str) -> Floats:
    """Values in the unit they are read in."""
    return values / _UNITS[unit]().size if unit in _UNITS else values


def bare(value: float, digits: int = 0, unit: str = "") -> str:
    """A number in a unit that stands elsewhere; never `-0`."""
    if not np.isfinite(value):
        return unknown()
    if unit in _UNITS:
        read = _UNITS[unit]()
        value, digits = read.shown(value), digits + read.digits
    shown = f"{round(float(value), digits) + 0.0:,.{digits}f}"
    return shown.translate(_signs(spoken().language))


def number(value: float, digits: int = 0, unit: str = "") -> str:
    """A number with its unit."""
    return f"{bare(value, digits, unit)} {unit_name(unit)}".rstrip() if np.isfinite(value) else unknown()


def signed(value: float, digits: int = 0, unit: str = "") -> str:
    """A number with its sign, and its unit."""
    return f"{signed_bare(value, digits, unit)} {unit_name(unit)}".rstrip() if np.isfinite(value) else unknown()


def signed_bare(value: float, digits: int = 0, unit: str = "") -> str:
    """A number with its sign, in a unit that stands elsewhere."""
    if not np.isfinite(value):
        return unknown()
    shown = bare(abs(value), digits, unit)
    nothing = not any(digit in "123456789" for digit in shown)
    return f"{'±' if nothing else '+' if value > 0 else '−'}{shown}"


def between(low: float, high: float, digits: int = 0, unit: str = "") -> str:
    """An interval, in a unit that stands elsewhere."""
    if not (np.isfinite(low) and np.isfinite(high)):
        return unknown()
    return _("%(low)s to %(high)s", low=bare(low, digits, unit), high=bare(high, digits, unit))


def percent(share: float, digits: int = 1) -> str:
    """A share 0 to 1 in per cent."""
    return number(100.0 * share, digits, "%")


def day_and_time(at: datetime | np.datetime64, zone: ZoneInfo) -> str:
    """A moment in the facility's time: `Tue 24 Nov 06:30`."""
    there = (moment(at) if isinstance(at, np.datetime64) else at).astimezone(zone)
    return f"{named_day(there.date())} {time_of_day(there)}"


def day(at: datetime, zone: ZoneInfo) -> str:
    """The day of a moment in the facility's time."""
    return named_day(at.astimezone(zone).date())


def kind(name: str) -> str:
    """A kind of alarm or work in words: `sudden wetting`."""
    return KINDS.get(name) or WORK.get(name) or name


def listed(names: list[str], most: int = 6) -> str:
    """Names in a row, and how many more."""
    shown = ", ".join(names[:most])
    return _("%(names)s and %(number)d more", names=shown, number=len(names) - most) if len(names) > most else shown


@cache
def _signs(language: str) -> Mapping[int, str]:
    """What a language writes for the signs of a number."""
    return str.maketrans({"-": "−", ",": get_group_symbol(language), ".": get_decimal_symbol(language)})

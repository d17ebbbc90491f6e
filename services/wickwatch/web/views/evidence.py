"""The numbers that raised an alarm, as labels and values with their units. Not here: the sentence (`alarms`)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from wickwatch.alarms.words import marked
from wickwatch.texts import N_, Words, _, capital, ngettext, number, tension_unit, volume_unit
from wickwatch.web.views.times import moment

#: What each piece is called, by its name without the unit.
_LABELS = Words(
    {
        "above_usual": N_("Above usual"),
        "above_usual_peak": N_("Above its usual peak"),
        "allowed": N_("Silence allowed"),
        "battery": N_("Battery"),
        "channel": N_("Channel"),
        "channels": N_("Channels"),
        "clock_off": N_("Clock off by"),
        "confidence": N_("How sure"),
        "containers": N_("Containers"),
        "days": N_("Days"),
        "device": N_("Device"),
        "draw": N_("Draw"),
        "draw_by_day": N_("Draw by day"),
        "draw_by_night": N_("Draw by night"),
        "dry_from": N_("Dry from"),
        "dry_limit": N_("Dry limit"),
        "emitters": N_("Emitters"),
        "empty_level": N_("Empty level"),
        "empty_since": N_("Empty since"),
        "excess": N_("More than usual"),
        "fall": N_("Fall"),
        "fault": N_("Fault"),
        "gained": N_("Gained"),
        "hours": N_("Hours"),
        "hours_left": N_("Hours left"),
        "hours_left_high": N_("Hours left at most"),
        "hours_left_low": N_("Hours left at least"),
        "hours_to_dry_limit": N_("Hours to the dry limit"),
        "hours_to_dry_limit_high": N_("Hours to the dry limit at most"),
        "hours_to_dry_limit_low": N_("Hours to the dry limit at least"),
        "hours_to_empty": N_("Hours until empty"),
        "hours_to_flood": N_("Hours until it runs over"),
        "last_at": N_("Last read"),
        "last_heard_at": N_("Last heard"),
        "last_value": N_("Last value"),
        "leak": N_("Leak"),
        "level": N_("Level"),
        "moved": N_("Moved"),
        "of_containers": N_("Of containers"),
        "parts": N_("Parts"),
        "rise": N_("Rise"),
        "silent": N_("Silent for"),
        "slope": N_("Slope"),
        "slope_high": N_("Slope at most"),
        "slope_low": N_("Slope at least"),
        "spread": N_("Spread"),
        "status": N_("Status"),
        "steady": N_("Steady for"),
        "stopped_for": N_("Stopped for"),
        "tension": N_("Tension"),
        "twin": N_("Twin"),
        "usable": N_("Usable"),
        "usual": N_("Usual"),
        "usual_fall": N_("Usual fall"),
        "volume": N_("Volume"),
        "wet_limit": N_("Wet limit"),
        "why": N_("Why"),
    }
)


@dataclass(frozen=True)
class Fact:
    """One piece of evidence."""

    label: str
    value: str


def facts(evidence: Mapping[str, object], zone: ZoneInfo, now: datetime) -> list[Fact]:
    """Evidence as labels and values with their units, in the order a detector gave it."""
    return [_fact(name, value, zone, now) for name, value in evidence.items() if value is not None]


def _fact(name: str, value: object, zone: ZoneInfo, now: datetime) -> Fact:
    end = next((end for end in _UNITS if name.endswith(end)), "")
    stem = name.removesuffix(end)
    label = _LABELS[stem] if stem in _LABELS else capital(stem.replace("_", " "))
    if isinstance(value, bool):
        return Fact(label, _("yes") if value else _("no"))
    if isinstance(value, int | float):
        return Fact(label, _UNITS[end](float(value)) if end else _digits(float(value)))
    return Fact(label, marked(str(value)) if name == "fault" else _text(str(value), zone, now))


def _text(text: str, zone: ZoneInfo, now: datetime) -> str:
    """A text as it is, a time as people say it."""
    if len(text) >= 16 and text[4:5] == "-" and "T" in text:
        try:
            return moment(datetime.fromisoformat(text), zone, now).text
        except (ValueError, TypeError):
            return text
    return text


def _digits(value: float) -> str:
    """A number with as many digits as say something."""
    digits = 0 if value.is_integer() or abs(value) >= 100 else 1 if abs(value) >= 1 else 2
    return number(value, digits)


def _days(days: float) -> str:
    """Whole days as they are counted, 1 day, and parts of days: 1.5 days."""
    if days.is_integer():
        return ngettext("%(num)s day", "%(num)s days", int(days))
    return _("%(amount)s days", amount=_digits(days))


def _plain(unit: str) -> Callable[[float], str]:
    return lambda value: f"{_digits(value)} {unit}"


def _tension(behind: str = "") -> Callable[[float], str]:
    return lambda mbar: f"{_digits(tension_unit().shown(mbar))} {tension_unit().name}{behind}"


def _volume(behind: str = "") -> Callable[[float], str]:
    return lambda litres: f"{_digits(volume_unit().shown(litres))} {volume_unit().name}{behind}"


#: How a number is read by the ending of its name, the longest first.
_UNITS: Mapping[str, Callable[[float], str]] = {
    "_mbar_per_day": lambda mbar: _("%(amount)s a day", amount=_tension()(mbar)),
    "_mbar_per_hour": _tension("/h"),
    "_mbar_per_h": _tension("/h"),
    "_mm_per_h": _plain("mm/h"),
    "_l_per_h": _volume("/h"),
    "_l_per_day": lambda litres: _("%(amount)s a day", amount=_volume()(litres)),
    "_mbar": _tension(),
    "_mm": _plain("mm"),
    "_hours": _plain("h"),
    "_h": _plain("h"),
    "_minutes": _plain("min"),
    "_min": _plain("min"),
    "_days": _days,
    "_percent": _plain("%"),
    "_degC": _plain("°C"),
    "_s": _plain("s"),
    "_l": _volume(),
}

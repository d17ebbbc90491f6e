"""Rules of watching: every limit, delay and horizon, with its default and source, and how they are inherited.

The table below is the one place a default stands. A value given on a facility holds for its rooms, one on a room for
its reservoirs and containers, one on a container for itself. Not here: what detectors do with them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

from wickwatch.errors import InputError
from wickwatch.texts import N_, _, general, tension_unit


@dataclass(frozen=True)
class Rule:
    """What one rule means: its unit, the range accepted, and where its default is from."""

    unit: str
    low: float
    high: float
    source: str


#: Units that are words; those of tension are as the reader chose.
_WORDS = (N_("hour"), N_("day"), N_("minute"), N_("interval"), N_("ratio"))


@dataclass(frozen=True)
class Rules:
    """The rules in force at one place. Tension in mbar, time as the name says."""

    set_point_mbar: float = 100.0
    wet_limit_mbar: float = 60.0
    dry_limit_mbar: float = 180.0
    settled_mbar: float = 10.0
    settled_hours: float = 2.0
    low_hours: float = 24.0
    drift_days: float = 7.0
    drift_mbar_per_day: float = 3.0
    drift_horizon_days: float = 5.0
    drift_confidence: float = 0.95
    fast_drying_mbar: float = 30.0
    silent_intervals: float = 3.0
    silent_minutes: float = 15.0
    battery_low_percent: float = 10.0
    gateway_silent_minutes: float = 10.0
    more_on_delay_minutes: float = 0.0
    more_off_delay_minutes: float = 0.0
    retention_days: float = 400.0


#: Meaning of each rule: unit, accepted range, source of the default.
RULES: Mapping[str, Rule] = {
    "set_point_mbar": Rule("mbar", 5, 800, "common practice: about 100 mbar"),
    "wet_limit_mbar": Rule(
        "mbar",
        0,
        800,
        "common practice; easily available water lies above 10-50 hPa (de Boodt and Verdonck 1972, from memory)",
    ),
    "dry_limit_mbar": Rule(
        "mbar",
        10,
        850,
        "below the tensiometer's limit of about 85 kPa (Vaz et al. 2013); media plants suffer above about 100 hPa "
        "(Raviv and Lieth 2008, from memory)",
    ),
    "settled_mbar": Rule("mbar", 1, 200, "tolerance about the set point for a settled container; chosen here"),
    "settled_hours": Rule("hour", 0.25, 48, "common practice: two hours or so for water to spread"),
    "low_hours": Rule("hour", 1, 336, "chosen here: one working day to refill"),
    "drift_days": Rule(
        "day", 3, 28, "chosen here; Mann-Kendall can't reach p 0.05 with fewer than four values (Gilbert 1987)"
    ),
    "drift_mbar_per_day": Rule("mbar/day", 0.2, 100, "chosen here"),
    "drift_horizon_days": Rule("day", 0.5, 30, "chosen here: the dry limit must be this near to call"),
    "drift_confidence": Rule("ratio", 0.5, 0.999, "usual level of significance"),
    "fast_drying_mbar": Rule("mbar", 5, 500, "chosen here: how far above its own usual day"),
    "silent_intervals": Rule("interval", 2, 100, "chosen here: of the channel's own usual interval"),
    "silent_minutes": Rule("minute", 1, 1440, "chosen here: never sooner than this"),
    "battery_low_percent": Rule("%", 1, 50, "common practice: change it in the last tenth of its charge"),
    "gateway_silent_minutes": Rule("minute", 1, 1440, "chosen here"),
    "more_on_delay_minutes": Rule(
        "minute", 0, 240, "0: the delays of each kind as they are; more where a place raises what goes by itself"
    ),
    "more_off_delay_minutes": Rule(
        "minute", 0, 1440, "0: the delays of each kind as they are; more where an alarm comes and goes"
    ),
    "retention_days": Rule("day", 8, 36500, "chosen here: a year and a month, so that a year can be compared"),
}

#: What was a rule once and is none: taken where a fleet file or a place still gives it, and left out.
_FORMER = frozenset({"wetting_minutes"})


def check(values: Mapping[str, object], where: str) -> dict[str, float]:
    """Values given at one place, as numbers; raises InputError naming the rule, the value and what is accepted."""
    checked: dict[str, float] = {}
    for name, value in values.items():
        if name in _FORMER:
            continue
        rule = RULES.get(name)
        if rule is None:
            raise InputError(f"{where}: rule", name, _("one of %(names)s", names=", ".join(sorted(RULES))))
        if isinstance(value, bool) or not isinstance(value, int | float) or not rule.low <= value <= rule.high:
            raise InputError(f"{where}: {name}", value, _accepted(rule))
        checked[name] = float(value)
    return checked


def _accepted(rule: Rule) -> str:
    unit, low, high = _(rule.unit) if rule.unit in _WORDS else rule.unit, rule.low, rule.high
    if rule.unit.startswith("mbar"):
        spoken = tension_unit()
        unit, low, high = rule.unit.replace("mbar", spoken.name), spoken.shown(low), spoken.shown(high)
    return _("a number of %(unit)s from %(low)s to %(high)s", unit=unit, low=general(low), high=general(high))


def inherit(above: Rules, given: Mapping[str, object], where: str) -> Rules:
    """Rules in force at a place: those above it, with the values given there on top.

    Raises InputError also where the limits cross: wet limit below set point below dry limit must hold.
    """
    if not given:
        return above
    rules = replace(above, **check(given, where))
    if not rules.wet_limit_mbar < rules.set_point_mbar < rules.dry_limit_mbar:
        limits, unit = _("wet limit, set point, dry limit"), tension_unit()
        found = (rules.wet_limit_mbar, rules.set_point_mbar, rules.dry_limit_mbar)
        raise InputError(
            f"{where}: {limits}",
            f"{', '.join(general(unit.shown(each)) for each in found)} {unit.name}",
            _("wet limit below set point below dry limit"),
        )
    return rules


def as_values(rules: Rules) -> dict[str, float]:
    """All rules by name, for pages and the fleet file."""
    return {f.name: getattr(rules, f.name) for f in fields(rules)}
